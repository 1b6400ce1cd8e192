"""Emoji said in words: by what they stand for at a bench, else by their Unicode names."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence

#: What is added where a row of emoji shows one of them again after another.
AGAIN = "again and again"

#: Blanks of no width, joiners, variation selectors, skin tones and the frame around a digit: nothing by themselves.
_DRESS = re.compile(
    "[\u200b-\u200d\u2060\ufeff\u20e3\ufe0e\ufe0f\U0001f3fb-\U0001f3ff]"
)
#: Words of Unicode names that tell how an emoji is drawn, not what it shows.
_DRAWN = re.compile(
    r"\b(?:and|black|button|circled?|emoji|heavy|index|large|mark|medium|negative|of|pointing|sign|small|squared?"
    r"|symbol|three|waves|white|with)\b"
)
#: Words of the names of emoji that show a mood or a person.
_MOODS = re.compile(
    r"\b(?:backhand|cat|face|gesture|hands?|heart|kiss|man|monkey|person|shrug|sweat|tears|woman)\b"
)
#: Signs and emoji begin here; before come degrees, fractions and the signs of law.
_FIRST = "\u203c"


def undressed(text: str) -> str:
    """A text without what only dresses emoji, so that one is one character wherever it may be.

    >>> undressed("🖥️ 1️⃣ 👍🏽")
    '🖥 1 👍'
    """
    return _DRESS.sub("", text)


def in_words(text: str, by_hand: Mapping[str, str]) -> str:
    """A text with its emoji said in words; one without any stays. `by_hand` holds undressed emoji, or rows of them.

    >>> in_words("my 🔋 is 🎈, 🟢 lamp", {"🎈": "swollen"})
    'my  battery is  swollen ,  green lamp'
    >>> in_words("🔛📴🔛📴 all day", {"🔛": "turns on", "📴": "turns off"})
    ' turns on turns off again and again all day'
    """
    if text.isascii():
        return text
    said: list[str] = []
    row: list[str] = []
    for unit in _units(undressed(text), by_hand):
        if _is_emoji(unit[0]):
            row.append(unit)
        elif not (row and unit.isspace()):
            said += [_row_in_words(row, by_hand), unit]
            row = []
    return "".join((*said, _row_in_words(row, by_hand)))


def _is_emoji(letter: str) -> bool:
    """Whether a character is a picture or a sign of its own, not another way to write letters."""
    return (
        letter >= _FIRST
        and unicodedata.category(letter) == "So"
        and not unicodedata.decomposition(letter)
    )


def _units(text: str, by_hand: Mapping[str, str]) -> Iterator[str]:
    """The characters of a text, those that mean something as a row together."""
    rows = sorted((shown for shown in by_hand if len(shown) > 1), key=len, reverse=True)
    at = 0
    while at < len(text):
        unit = next((row for row in rows if text.startswith(row, at)), text[at])
        yield unit
        at += len(unit)


def _row_in_words(row: Sequence[str], by_hand: Mapping[str, str]) -> str:
    """What emoji in a row say, each once, with blanks around; nothing of an empty row."""
    if not row:
        return ""
    said = []
    for unit in dict.fromkeys(row):
        words = by_hand[unit] if unit in by_hand else _name(unit)
        if words:
            said.append(words)
    if said and _comes_back(row):
        said.append(AGAIN)
    return f" {' '.join(said)} "


def _comes_back(row: Sequence[str]) -> bool:
    """Whether some emoji of a row stands in it again, after another one."""
    return any(
        row[at + 1] != unit and unit in row[at + 2 :]
        for at, unit in enumerate(row[:-2])
    )


def _name(unit: str) -> str:
    """The name of an emoji without what tells how it is drawn; empty for moods.

    >>> _name("🟢"), _name("🔋"), _name("🐢"), _name("😭")
    ('green', 'battery', 'turtle', '')
    """
    name = unicodedata.name(unit, "").lower().replace("-", " ")
    return "" if _MOODS.search(name) else " ".join(_DRAWN.sub("", name).split())
