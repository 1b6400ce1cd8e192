"""Freshness of check-out lines: which good ones a repair made stale, how often one fails, what finding it late costs.

A line is `moved` by taking apart as far as its part sits: 1 behind the cover, 2 behind board, cooler or palm rest,
3 with the lid apart. A repair is as deep as the part it reaches, 0 where nothing was opened.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from kb.diagnosis.belief import two_levels

#: The share of machines that fail a line, by its word in the list, before any was counted (common practice, no source).
WORD_SHARES = {"often": 0.12, "sometimes": 0.05, "rare": 0.015}

Word = Literal["often", "sometimes", "rare"]

#: Machines of other models that weigh as much as the word; machines of other models as much as those of this one.
WORD_MACHINES, MODEL_MACHINES = 20.0, 12.0


@dataclass(frozen=True, slots=True)
class Reached:
    """A repair, or a try at one: when it was done, as any number that rises with time, and how deep it went."""

    at: int
    depth: int


@dataclass(frozen=True, slots=True)
class Shown:
    """What machines showed on a line: how many it was bad on, of how many it was looked at on."""

    bad: int = 0
    seen: int = 0


def stale(moved: int, shown_at: int, repairs: Iterable[Reached]) -> bool:
    """Whether a line shown good has to be shown again: a later repair went as deep as its part sits.

    The keyboard (2) was good at 10; the cover was off for the drive at 12 (1), then the board came out at 15 (2):

    >>> stale(2, 10, [Reached(12, 1)]), stale(2, 10, [Reached(12, 1), Reached(15, 2)])
    (False, True)

    What was done before the line was shown does not matter, and a line moved by nothing (0) is disturbed by all:

    >>> stale(2, 10, [Reached(9, 3)]), stale(0, 10, [Reached(12, 0)])
    (False, True)
    """
    return any(repair.at > shown_at and repair.depth >= moved for repair in repairs)


def redo_by_depth(minutes: Sequence[float], depths: Sequence[int], moved: Sequence[int]) -> list[list[float]]:
    """What a repair of each line makes necessary again of each other one: its minutes where `stale` says so.

    `depths[i]` is how deep the usual repair of line i goes. Work steps lost in part are for the caller to add.

    >>> redo_by_depth([2, 5, 1], depths=[0, 2, 3], moved=[1, 2, 3])
    [[0.0, 0.0, 0.0], [2.0, 0.0, 0.0], [2.0, 5.0, 0.0]]
    """
    numbers = range(len(minutes))
    if not len(minutes) == len(depths) == len(moved):
        raise ValueError(f"{len(minutes)} minutes, {len(depths)} depths, {len(moved)} moved; give one for each line")
    return [[float(minutes[j]) if i != j and depths[i] >= moved[j] else 0.0 for j in numbers] for i in numbers]


def failing(word: Word, elsewhere: Shown = Shown(), here: Shown = Shown()) -> float:
    """The share of machines of this model that fail a line: its word, then other models, then this one.

    θ = (bad elsewhere + 20·word) / (seen elsewhere + 20) and (bad here + 12·θ) / (seen here + 12): the two levels of
    `kb.diagnosis.belief.two_levels` for the two outcomes of a line (a Beta prior on both). Counted on check-outs; what
    owners complain of is not what a check-out finds. ValueError for an unknown word or more bad than seen.

    >>> round(failing("often"), 6), round(failing("sometimes", Shown(5, 80)), 6)
    (0.12, 0.06)
    >>> round(failing("sometimes", Shown(5, 80), Shown(3, 12)), 6)  # (3 + 12 · .06) / (12 + 12)
    0.155
    """
    if word not in WORD_SHARES:
        raise ValueError(f"{word} is no word for how often a line fails; write one of {', '.join(WORD_SHARES)}")
    for shown in (elsewhere, here):
        if not 0 <= shown.bad <= shown.seen:
            raise ValueError(f"{shown.bad} bad of {shown.seen} is no count; count each machine once")
    prior = {"bad": WORD_SHARES[word], "good": 1.0 - WORD_SHARES[word]}
    return two_levels(prior, _counts(elsewhere), _counts(here), WORD_MACHINES, MODEL_MACHINES)["bad"]


def _counts(shown: Shown) -> dict[str, float]:
    return {"bad": float(shown.bad), "good": float(shown.seen - shown.bad)}


def found_late(
    line: int,
    ends: Sequence[float],
    redo: Sequence[Sequence[float]],
    *,
    done: Collection[int],
    order: Sequence[int],
    closing: int,
) -> float:
    """The minutes more that a line found bad costs after the closing line instead of now, when `done` lines are done.

    The expected minutes made necessary again, (1 - g) · the sum of w over the lines done, at both times: then are
    done those done now and those up to the closing line of the order, but for the line itself. ValueError where
    the order has no such closing line.

    >>> redo = [[0, 0, 0, 0], [4, 0, 7, 10], [0, 0, 0, 0], [0, 0, 0, 0]]
    >>> found_late(1, ends=[0, 0, 0, 0], redo=redo, done=[0], order=[0, 1, 2, 3], closing=3)
    17.0
    """
    if closing not in order:
        raise ValueError(f"the order does not hold line {closing}; name the line of closing up")
    later = {*done, *order[: order.index(closing) + 1]} - {line}
    more = sum(redo[line][other] for other in later) - sum(redo[line][other] for other in done if other != line)
    return (1.0 - ends[line]) * more
