"""Complaints with typing errors put in: misspellings that people are known to make, and slips on a keyboard."""

from __future__ import annotations

import importlib.util
import json
import os
import random
import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from kb.demo.complaints import mistyped

#: Right word to the wrong ways to write it, as lists of real misspellings give them.
Listed = Mapping[str, tuple[str, ...]]

#: Where the second list is: `dict/dict-en.json` of @cspell/dict-en-common-misspellings, which npm installs.
SECOND_LIST = os.environ.get("BENCHLORE_MISSPELLINGS", "")


def listed_misspellings() -> Listed:
    """Misspellings with one right reading, from the lists that are installed: codespell's, and one from npm."""
    pairs = (
        re.fullmatch(r"([a-z]+)->([a-z]+)", line.strip().lower()) for line in _lines()
    )
    wrong: dict[str, set[str]] = defaultdict(set)
    for pair in filter(None, pairs):
        wrong[pair[2]].add(pair[1])
    return {right: tuple(sorted(ways)) for right, ways in sorted(wrong.items())}


def _lines() -> Iterable[str]:
    spec = importlib.util.find_spec("codespell_lib")
    if spec and spec.submodule_search_locations:
        path = Path(spec.submodule_search_locations[0]) / "data" / "dictionary.txt"
        yield from path.read_text("utf-8").splitlines()
    if SECOND_LIST:
        given = json.loads(Path(SECOND_LIST).read_text("utf-8"))
        yield from given["dictionaryDefinitions"][0]["suggestWords"]


def with_slips(words: str, slips: int, dice: random.Random, listed: Listed) -> str:
    """The complaint with that many words mistyped: every second by a listed misspelling, where there is one."""

    def slipped(piece: str) -> str:
        ways = listed.get(piece.lower(), ())
        return (
            dice.choice(ways) if ways and dice.random() < 0.5 else mistyped(piece, dice)
        )

    return _changed(
        words, slips, dice, lambda piece: len(piece) > 3 and piece.isascii(), slipped
    )


def written_short(words: str, number: int, dice: random.Random) -> str:
    """The complaint with so many of its longer words written without vowels, as technicians do ("scrn brkn").

    >>> written_short("the screen broken", 2, random.Random(1))
    'the scrn brkn'
    """

    def short(piece: str) -> str:
        return piece[0] + re.sub("[aeiou]", "", piece[1:])

    return _changed(
        words,
        number,
        dice,
        lambda piece: len(piece) > 4 and 2 < len(short(piece)) < len(piece),
        short,
    )


def parted(words: str, number: int, dice: random.Random) -> str:
    """The complaint with a space within that many of its longer words.

    >>> parted("hinge stiff", 1, random.Random(5))
    'hinge sti ff'
    """

    def in_two(piece: str) -> str:
        cut = dice.randrange(2, len(piece) - 1)
        return f"{piece[:cut]} {piece[cut:]}"

    return _changed(words, number, dice, lambda piece: len(piece) > 4, in_two)


def cut_short(words: str, number: int, dice: random.Random) -> str:
    """The complaint with that many of its longer words cut short after three or four letters.

    >>> cut_short("screen flickers", 2, random.Random(2))
    'scr flic'
    """
    return _changed(
        words,
        number,
        dice,
        lambda piece: len(piece) > 5,
        lambda piece: piece[: dice.randint(3, 4)],
    )


def run_together(words: str, number: int, dice: random.Random) -> str:
    """The complaint with that many of its spaces left out.

    >>> run_together("hinge is stiff", 1, random.Random(1))
    'hingeis stiff'
    """
    pieces = words.split(" ")
    for _ in range(min(number, len(pieces) - 1)):
        at = dice.randrange(len(pieces) - 1)
        pieces[at : at + 2] = [pieces[at] + pieces[at + 1]]
    return " ".join(pieces)


def _changed(
    words: str,
    number: int,
    dice: random.Random,
    may_change: Callable[[str], bool],
    change: Callable[[str], str],
) -> str:
    """The complaint with that many of its words changed, of those made of letters alone that may be."""
    pieces = words.split(" ")
    places = [
        at for at, piece in enumerate(pieces) if piece.isalpha() and may_change(piece)
    ]
    for at in dice.sample(places, min(number, len(places))):
        pieces[at] = change(pieces[at])
    return " ".join(pieces)
