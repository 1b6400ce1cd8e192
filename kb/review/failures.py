"""Failures of a model: causes by count, rate per machine seen with its interval, minutes, parts, trend."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from statistics import median

from kb.base.intervals import wilson
from kb.index.jobs import Works
from kb.review.period import ALWAYS, Period
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


def review(works: Works, names: Mapping[str, str], model: str = "", period: Period = ALWAYS) -> Review:
    """The review of those jobs; most frequent cause first, ties by name.

    A machine is a unit tag of a model; a job without a tag counts as a machine of its own. Quarters are the shop's.
    """
    quarters = period.quarters(works.closed_at)
    machines = len(set(works.machines))
    failures = [_failure(one, names.get(one.cause, one.cause), machines) for one in _by_cause(works, quarters)]
    failures.sort(key=lambda failure: (-failure.jobs, failure.cause))
    minutes = [spent for spent in works.minutes if spent is not None]
    return Review(
        model,
        period.since,
        len(works),
        machines,
        median(minutes) if minutes else None,
        sum(minutes),
        _most_first(Counter(filter(None, works.parts))),
        tuple(failures),
        period.until,
        _in_order(Counter(quarters)),
    )


@dataclass(slots=True)
class _OfCause:
    """What was counted of one cause."""

    cause: str
    jobs: int
    first_seen: str
    last_seen: str
    machines: int = 0
    minutes: list[float] = field(default_factory=list)
    parts: Counter[str] = field(default_factory=Counter)
    quarters: Counter[str] = field(default_factory=Counter)


def _by_cause(works: Works, quarters: Sequence[str]) -> Collection[_OfCause]:
    """The jobs counted by cause: pairs first, so that a hundred thousand jobs are gone through by the library."""
    causes = works.causes
    first = dict(zip(reversed(causes), reversed(works.closed_at), strict=True))
    last = dict(zip(causes, works.closed_at, strict=True))
    found = {cause: _OfCause(cause, jobs, first[cause], last[cause]) for cause, jobs in Counter(causes).items()}
    for cause, _ in set(zip(causes, works.machines, strict=True)):
        found[cause].machines += 1
    for cause, minutes in zip(causes, works.minutes, strict=True):
        if minutes is not None:
            found[cause].minutes.append(minutes)
    for (cause, part), pieces in Counter(zip(causes, works.parts, strict=True)).items():
        if part:
            found[cause].parts[part] = pieces
    for (cause, quarter), jobs in Counter(zip(causes, quarters, strict=True)).items():
        found[cause].quarters[quarter] = jobs
    return found.values()


def _failure(one: _OfCause, name: str, machines_seen: int) -> Failure:
    spread = wilson(one.machines, machines_seen)
    return Failure(
        one.cause,
        name,
        one.jobs,
        one.machines,
        one.machines / machines_seen,
        spread.low,
        spread.high,
        median(one.minutes) if one.minutes else None,
        _most_first(one.parts),
        one.first_seen,
        one.last_seen,
        _in_order(one.quarters),
        sum(one.minutes),
    )


def _in_order(quarters: Mapping[str, int]) -> Quarters:
    return tuple(sorted(quarters.items()))


def _most_first(parts: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(parts.items(), key=lambda item: (-item[1], item[0])))
