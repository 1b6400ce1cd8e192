"""Complaints as an owner or a colleague writes them on a ticket: an entry's wordings, with slips of the hand."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from kb.demo.scenario import Scenario, shipped_scenario
from kb.model import Entry

#: Shares of tickets: too general to tell anything, with slips of the hand, with words around the complaint.
GENERAL_SHARE, SLIPPED_SHARE, WRAPPED_SHARE = 0.04, 0.35, 0.15

#: Complaints that fit every fault.
GENERAL = (
    "does not work",
    "broken",
    "defect",
    "please check",
    "customer says it does not work",
    "not ok",
    "kaput",
)

_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")


def complaint(
    entry: Entry,
    rng: Random,
    scenario: Scenario | None = None,
    general: float = GENERAL_SHARE,
) -> str:
    """A ticket's text for a machine with a fault of that entry; `general` is the share that tells nothing."""
    if rng.random() < general:
        return rng.choice(GENERAL)
    text = rng.choice((*entry.wordings, *entry.symptoms) or (entry.title,))
    if rng.random() < SLIPPED_SHARE:
        text = mistyped(text, rng, 1 + (rng.random() < 0.3))
    if rng.random() < WRAPPED_SHARE:
        scenario = scenario or shipped_scenario()
        if rng.random() < 0.5:
            text = rng.choice(scenario.before) + text
        else:
            text += rng.choice(scenario.after)
    return _cased(text, rng)


def mistyped(text: str, rng: Random, slips: int = 1) -> str:
    """The text with that many slips in its longer words: a neighbouring key, a swap, a loss, a doubling."""
    words = text.split(" ")
    for _ in range(slips):
        places = [place for place, word in enumerate(words) if _is_long(word)]
        if not places:
            break
        place = rng.choice(places)
        words[place] = _slipped(words[place], rng)
    return " ".join(words)


def _is_long(word: str) -> bool:
    """Whether a word is one of four letters or more, in which a slip can be made."""
    return len(word) > 3 and word.isascii() and word.isalpha()


def neighbours(letter: str) -> Sequence[str]:
    """The letters beside a letter on its row of the keyboard.

    >>> neighbours("a"), neighbours("g")
    (['s'], ['f', 'h'])
    """
    row = next((row for row in _ROWS if letter in row), "")
    at = row.find(letter)
    return [*row[max(at - 1, 0) : at], *row[at + 1 : at + 2]]


def _slipped(word: str, rng: Random) -> str:
    at = rng.randrange(1, len(word) - 1)  # the first letter is seldom wrong
    match rng.choice(("neighbour", "swap", "drop", "double")):
        case "swap":
            return word[:at] + word[at + 1] + word[at] + word[at + 2 :]
        case "drop":
            return word[:at] + word[at + 1 :]
        case "double":
            return word[: at + 1] + word[at:]
    near = neighbours(word[at].lower())
    instead = rng.choice(near) if near else ""
    return word[:at] + instead + word[at + 1 :]


def _cased(text: str, rng: Random) -> str:
    drawn = rng.random()
    if drawn < 0.15:
        return text[:1].upper() + text[1:]
    if drawn < 0.22:
        return text.upper()
    return text.lower() if drawn < 0.5 else text
