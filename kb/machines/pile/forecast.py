"""The forecast of a pile: how many machines will work and when, by playing the policy on causes drawn from beliefs."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from random import Random

from kb.machines.pile.policy import by_prices
from kb.machines.pile.waiting import Pile, PileStep, Remedy, Waiting, after

#: Times that a pile is played, unless told otherwise.
PLAYS = 30
#: The share of piles that an interval is to hold.
LEVEL = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """A figure to reckon with, and the range that holds it 8 times in 10, as nearly as whole numbers can."""

    expected: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """How many machines of a pile will work, after how many minutes nothing is left to do, and how many work when.

    `by_then` has the mean number working after each quarter of the minutes that the pile has left.
    """

    working: Range
    minutes: Range
    by_then: tuple[tuple[float, float], ...]
    plays: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One pile played to its end: the minutes after which each machine worked, and those spent in all."""

    worked_after: tuple[float, ...]
    minutes: float


def foretold(
    pile: Pile,
    plays: int = PLAYS,
    seed: int = 0,
    policy: Callable[[Pile], PileStep | None] = by_prices,
) -> Forecast:
    """The forecast of a pile from so many plays; the same seed gives the same forecast.

    Each play draws a cause for every machine from what is believed of it, and from that which of its pieces are bad.
    The range is that of whole machines around the middle which holds nearest to 8 in 10 of the plays. ValueError for
    no plays.
    """
    if plays < 1:
        raise ValueError(
            f"{plays} plays foretell nothing; give 1 or more, such as {PLAYS}"
        )
    runs = [
        _played(pile, Random(f"{seed} {number}"), policy) for number in range(plays)
    ]
    counts = [len(run.worked_after) for run in runs]
    quarters = [pile.minutes * quarter / 4 for quarter in (1, 2, 3, 4)]
    by_then = [
        (minutes, statistics.fmean(_worked_by(run, minutes) for run in runs))
        for minutes in quarters
    ]
    spent = sorted(run.minutes for run in runs)
    outside = max(int((plays + 1) * (1 - LEVEL) / 2) - 1, 0)
    minutes = Range(
        expected=statistics.fmean(spent), low=spent[outside], high=spent[-1 - outside]
    )
    return Forecast(
        working=whole_range(counts),
        minutes=minutes,
        by_then=tuple(by_then),
        plays=plays,
    )


def _worked_by(run: Run, minutes: float) -> int:
    return sum(worked <= minutes + 1e-6 for worked in run.worked_after)


def whole_range(counts: Sequence[int]) -> Range:
    """The range of whole numbers around the middle that holds nearest to 8 in 10 of these.

    Of ranges that hold as many the narrowest, and of these the one that lies best around the mean.

    >>> whole_range([9, 10, 10, 11, 8, 10, 9, 11, 12, 10])
    Range(expected=10.0, low=9, high=11)
    """
    mean, middle, most = (
        statistics.fmean(counts),
        round(statistics.median(counts)),
        max(counts),
    )
    ranges = [
        (low, high)
        for low in range(min(counts), middle + 1)
        for high in range(middle, most + 1)
    ]

    def miss(bounds: tuple[int, int]) -> tuple[float, int, float]:
        low, high = bounds
        held = sum(low <= count <= high for count in counts)
        return abs(held / len(counts) - LEVEL), high - low, abs((low + high) / 2 - mean)

    low, high = min(ranges, key=miss)
    return Range(expected=mean, low=low, high=high)


def _played(pile: Pile, rng: Random, policy: Callable[[Pile], PileStep | None]) -> Run:
    """The pile played once, on causes and pieces drawn now."""
    causes = {machine.tag: _drawn_cause(machine, rng) for machine in pile.waiting}
    bad = {
        machine.tag: _bad_pieces(machine, causes[machine.tag], rng)
        for machine in pile.waiting
    }
    bad |= {
        donor.tag: _bad_pieces(donor, _drawn_cause(donor, rng), rng)
        for donor in pile.donors
    }
    now, worked = pile, list[float]()
    while (step := policy(now)) is not None:
        if step.kind == "look":
            now = after(now, step, causes[step.tag])
            continue
        works = _works(now, step, causes[step.tag], bad)
        now = after(now, step, works)
        if works:
            worked.append(pile.minutes - now.minutes)
    return Run(worked_after=tuple(worked), minutes=pile.minutes - now.minutes)


def _works(
    pile: Pile, step: PileStep, cause: Remedy | None, bad: Mapping[str, frozenset[str]]
) -> bool | None:
    """Whether a machine of that cause works after a repair: False with a bad piece, None where it was in vain."""
    if step.donor and step.part in bad[step.donor]:
        return False
    tried = next(machine.repair for machine in pile.waiting if machine.tag == step.tag)
    is_the_cause = (
        cause is not None and tried is not None and cause.cause == tried.cause
    )
    return True if is_the_cause else None


def _drawn_cause(machine: Waiting, rng: Random) -> Remedy | None:
    drawn = rng.random()
    for remedy in machine.remedies:
        drawn -= remedy.belief
        if drawn < 0:
            return remedy
    return None


def _bad_pieces(machine: Waiting, cause: Remedy | None, rng: Random) -> frozenset[str]:
    """The pools of its pieces that are bad: one that the cause suspects, and others by themselves."""
    culprit = cause.part if cause else ""
    if cause and cause.suspects:
        culprit = rng.choice((cause.part, *cause.suspects))
    return frozenset(
        one.part
        for one in machine.pieces
        if rng.random() >= one.sound or one.part == culprit
    )
