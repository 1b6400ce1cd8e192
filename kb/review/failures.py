"""Failures of a model: causes by count, rate per machine seen with its interval, minutes, parts, trend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from statistics import median

from kb.base.intervals import wilson
from kb.review.period import ALWAYS, Period
from kb.review.sums import CauseSums, FailureSums
from kb.review.trend import Quarters


@dataclass(frozen=True, slots=True)
class Failure:
    """One cause as the history has it. The rate is machines with it per machine seen, with a 95 % Wilson interval."""

    cause: str
    name: str
    jobs: int
    machines: int
    rate: float
    low: float
    high: float
    median_minutes: float | None
    parts: tuple[tuple[str, int], ...]
    first_seen: str
    last_seen: str
    quarters: Quarters
    total_minutes: float


@dataclass(frozen=True, slots=True)
class Review:
    """The failures of one model or, with an empty model, of all; `machines` is how many machines were seen."""

    model: str
    since: str
    jobs: int
    machines: int
    median_minutes: float | None
    total_minutes: float
    parts: tuple[tuple[str, int], ...]
    failures: tuple[Failure, ...]
    until: str = ""
    quarters: Quarters = ()


def review(
    sums: FailureSums,
    names: Mapping[str, str],
    model: str = "",
    period: Period = ALWAYS,
) -> Review:
    """The review of the jobs that were counted; most frequent cause first, ties by name.

    A machine is a unit tag of a model; a job without a tag counts as a machine of its own. Quarters are the shop's.
    """
    seen = sums.all
    machines = len(seen.machines)
    failures = [
        _failure(cause, told, machines, names) for cause, told in sums.causes.items()
    ]
    failures.sort(key=lambda failure: (-failure.jobs, failure.cause))
    return Review(
        model=model,
        since=period.since,
        jobs=seen.jobs,
        machines=machines,
        median_minutes=median(seen.minutes) if seen.minutes else None,
        total_minutes=_whole(seen.minutes),
        parts=_most_first(seen.parts),
        failures=tuple(failures),
        until=period.until,
        quarters=_in_order(seen.quarters),
    )


def _failure(
    cause: str, told: CauseSums, machines: int, names: Mapping[str, str]
) -> Failure:
    """What the jobs of one cause tell of it, where so many machines were seen."""
    spread = wilson(len(told.machines), machines)
    return Failure(
        cause=cause,
        name=names.get(cause, cause),
        jobs=told.jobs,
        machines=len(told.machines),
        rate=len(told.machines) / machines,
        low=spread.low,
        high=spread.high,
        median_minutes=median(told.minutes) if told.minutes else None,
        parts=_most_first(told.parts),
        first_seen=told.first,
        last_seen=told.last,
        quarters=_in_order(told.quarters),
        total_minutes=_whole(told.minutes),
    )


def _whole(minutes: Sequence[float]) -> float:
    """The sum to the last digit, whatever their order."""
    return fsum(minutes) if minutes else 0


def _in_order(quarters: Mapping[str, int]) -> Quarters:
    return tuple(sorted(quarters.items()))


def _most_first(parts: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(parts.items(), key=lambda item: (-item[1], item[0])))
