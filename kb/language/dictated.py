"""Dictated words: what a machine that hears wrote down as other words of the same sound, put back."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence

from rapidfuzz import fuzz

from kb.language.sounds import sound
from kb.language.words import Lexicon, stem

#: The words of a listed phrase at most, those that may be one, and how much their letters are like it in percent.
MOST_WORDS, MOST_JOINED, LIKE = 4, 2, 80


def put_back(
    text: str, lexicon: Lexicon, literal: Collection[str]
) -> tuple[str, list[tuple[str, str]]]:
    """A folded text with words put back that were heard as others, and which those were; `literal` words stay.

    Listed phrases are put back wherever they stand. Other words are put together where they sound as one of the trade
    ("key bored").
    """
    pieces = re.split(r"([^a-z']+)", text)
    found = []
    at = 0
    while at < len(pieces):
        length, meant = _heard_at(
            pieces[at : at + 2 * MOST_WORDS - 1], lexicon, literal
        )
        if meant:
            run = slice(at, at + 2 * length - 1)
            found.append(("".join(pieces[run]), meant))
            pieces[run] = [meant]
        at += 2
    return "".join(pieces), found


def _heard_at(
    pieces: Sequence[str], lexicon: Lexicon, literal: Collection[str]
) -> tuple[int, str]:
    """How many of these words, which every other piece parts, were heard for others, and for which; (0, "") if none."""
    begins_phrase = pieces[0] in lexicon.heard_first
    longest = min((len(pieces) + 1) // 2, MOST_WORDS if begins_phrase else MOST_JOINED)
    for length in range(longest, 0 if begins_phrase else 1, -1):
        words, gaps = pieces[: 2 * length - 1 : 2], pieces[1 : 2 * length - 2 : 2]
        side_by_side = all(words) and set(gaps) <= {" "}
        if not side_by_side or not set(words).isdisjoint(literal):
            continue
        meant = lexicon.heard.get(" ".join(words)) or _sounds_as(words, lexicon)
        if meant:
            return length, meant
    return 0, ""


def _sounds_as(words: Sequence[str], lexicon: Lexicon) -> str:
    """The word of the trade as which these sound together; empty if there is none, or they make sense as they stand.

    One of them must name another thing, and one have no place here.
    """
    if not 1 < len(words) <= MOST_JOINED:
        return ""
    stems = tuple(map(stem, words))
    named = [lexicon.same.get((one,), "").lower() for one in stems]
    nameless = [word for word, name in zip(words, named, strict=True) if not name]
    is_odd = any(word not in lexicon.everyday for word in nameless)
    if not is_odd or not any(named) or stems in lexicon.same:
        return ""
    whole = "".join(words)
    spelt, meant = lexicon.sounds.get(sound(whole), ("", ""))
    if not spelt or meant in named:
        return ""
    return meant if fuzz.ratio(whole, spelt) >= LIKE else ""
