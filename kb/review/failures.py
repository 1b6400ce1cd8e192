"""Failures of a model: causes by count, rate per machine seen with its interval, minutes, parts, trend."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
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
    works: Works, names: Mapping[str, str], model: str = "", period: Period = ALWAYS
) -> Review:
    """The review of those jobs; most frequent cause first, ties by name.

    A machine is a unit tag of a model; a job without a tag counts as a machine of its own. Quarters are the shop's.
    """
    quarters = period.quarters(works.closed_at)
    machines = len(set(works.machines))
    seen = _Reviewed(works, quarters, machines)
    failures = [_failure(seen, places, names) for places in _by_cause(works)]
    failures.sort(key=lambda failure: (-failure.jobs, failure.cause))
    minutes = _told(works.minutes)
    return Review(
        model=model,
        since=period.since,
        jobs=len(works),
        machines=machines,
        median_minutes=median(minutes) if minutes else None,
        total_minutes=sum(minutes),
        parts=_most_first(_counted(works.parts)),
        failures=tuple(failures),
        until=period.until,
        quarters=_in_order(Counter(quarters)),
    )


@dataclass(frozen=True, slots=True)
class _Reviewed:
    """The jobs that are reviewed, the quarter of each, and how many machines they were on."""

    works: Works
    quarters: Sequence[str]
    machines: int


def _by_cause(works: Works) -> Collection[Sequence[int]]:
    """The places of the jobs of each cause, in their order."""
    found: defaultdict[str, list[int]] = defaultdict(list)
    for place, cause in enumerate(works.causes):
        found[cause].append(place)
    return found.values()


def _failure(
    seen: _Reviewed, places: Sequence[int], names: Mapping[str, str]
) -> Failure:
    """What the jobs of one cause, which stand at those places, tell of it."""
    works = seen.works
    cause = works.causes[places[0]]
    machines = len({works.machines[place] for place in places})
    spread = wilson(machines, seen.machines)
    minutes = _told(works.minutes[place] for place in places)
    return Failure(
        cause=cause,
        name=names.get(cause, cause),
        jobs=len(places),
        machines=machines,
        rate=machines / seen.machines,
        low=spread.low,
        high=spread.high,
        median_minutes=median(minutes) if minutes else None,
        parts=_most_first(_counted(works.parts[place] for place in places)),
        first_seen=works.closed_at[places[0]],
        last_seen=works.closed_at[places[-1]],
        quarters=_in_order(Counter(seen.quarters[place] for place in places)),
        total_minutes=sum(minutes),
    )


def _told(minutes: Iterable[float | None]) -> list[float]:
    return [spent for spent in minutes if spent is not None]


def _counted(parts: Iterable[str]) -> Counter[str]:
    return Counter(filter(None, parts))


def _in_order(quarters: Mapping[str, int]) -> Quarters:
    return tuple(sorted(quarters.items()))


def _most_first(parts: Mapping[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(parts.items(), key=lambda item: (-item[1], item[0])))
