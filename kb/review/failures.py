"""Failures of a model: causes by count, rate per machine seen with its interval, minutes, parts, trend."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from kb.base.intervals import wilson
from kb.review.period import ALWAYS, Period
from kb.review.trend import Quarters, by_quarter
from kb.review.work import Work


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
    total_minutes: float = 0.0


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


def review(works: Sequence[Work], names: Mapping[str, str], model: str = "", period: Period = ALWAYS) -> Review:
    """The review of those jobs, oldest first as they are; most frequent cause first, ties by name.

    A machine is a unit tag of a model; a job without a tag counts as a machine of its own. Quarters are the shop's.
    """
    machines = len({work.machine for work in works})
    by_cause: dict[str, list[Work]] = {}
    for work in works:
        by_cause.setdefault(work.cause, []).append(work)
    failures = [_failure(names.get(cause, cause), group, machines, period) for cause, group in by_cause.items()]
    failures.sort(key=lambda failure: (-failure.jobs, failure.cause))
    minutes = [work.minutes for work in works if work.minutes is not None]
    return Review(
        model,
        period.since,
        len(works),
        machines,
        median(minutes) if minutes else None,
        sum(minutes),
        _parts(works),
        tuple(failures),
        period.until,
        _quarters(works, period),
    )


def _failure(name: str, works: Sequence[Work], machines_seen: int, period: Period) -> Failure:
    machines = len({work.machine for work in works})
    spread = wilson(machines, machines_seen)
    minutes = [work.minutes for work in works if work.minutes is not None]
    return Failure(
        works[0].cause,
        name,
        len(works),
        machines,
        machines / machines_seen,
        spread.low,
        spread.high,
        median(minutes) if minutes else None,
        _parts(works),
        works[0].closed_at,
        works[-1].closed_at,
        _quarters(works, period),
        sum(minutes),
    )


def _quarters(works: Sequence[Work], period: Period) -> Quarters:
    return by_quarter(period.month(work.closed_at) for work in works)


def _parts(works: Sequence[Work]) -> tuple[tuple[str, int], ...]:
    counted = Counter(work.part for work in works if work.part)
    return tuple(sorted(counted.items(), key=lambda item: (-item[1], item[0])))
