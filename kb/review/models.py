"""Models beside each other: how much work a machine of each has been, and how sure that is."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kb.base.intervals import mean_interval, poisson, wilson
from kb.base.quantiles import Interval
from kb.review.work import PutAway, Work


@dataclass(frozen=True, slots=True)
class Measured:
    """A figure with its 95 % interval, which is None where a single machine leaves it open."""

    value: float
    interval: Interval | None


@dataclass(frozen=True, slots=True)
class ModelLine:
    """One model. All figures are per machine that came to the bench; one that never did is not known here.

    `minutes` is over the machines all of whose jobs have their minutes (None if there are none), `good` the share of
    machines whose fault was found, of those that are done: with a confirmed cause or put away without one.
    """

    model: str
    machines: int
    jobs: Measured
    minutes: Measured | None
    parts: Measured
    good: Measured
    put_away: int


def compared(works: Iterable[Work], gone: Iterable[PutAway] = ()) -> tuple[ModelLine, ...]:
    """Every model, the one with the least bench minutes a machine first.

    Ordered by the upper end of the minutes' interval, so that a model hardly seen is not praised for one lucky
    machine; those without an interval come last, ties by name.
    """
    by_model: dict[str, list[Work]] = {}
    for work in works:
        by_model.setdefault(work.model.casefold(), []).append(work)
    without: dict[str, set[str]] = {}
    for job in gone:
        without.setdefault(job.model.casefold(), set()).add(job.machine)
    lines = [_line(group, without.get(name, set())) for name, group in by_model.items()]
    return tuple(sorted(lines, key=lambda line: (_dearest(line), line.model)))


def _dearest(line: ModelLine) -> float:
    interval = line.minutes.interval if line.minutes else None
    return interval.high if interval else float("inf")


def _line(works: Sequence[Work], put_away: set[str]) -> ModelLine:
    machines = {work.machine for work in works}
    seen, parts = len(machines), sum(bool(work.part) for work in works)
    done = len(machines | put_away)
    return ModelLine(
        works[0].model,
        seen,
        Measured(len(works) / seen, poisson(len(works), seen)),
        _minutes(works),
        Measured(parts / seen, poisson(parts, seen)),
        Measured(seen / done, wilson(seen, done)),
        len(put_away - machines),
    )


def _minutes(works: Sequence[Work]) -> Measured | None:
    spent: dict[str, float] = {}
    untold: set[str] = set()
    for work in works:
        if work.minutes is None:
            untold.add(work.machine)
        else:
            spent[work.machine] = spent.get(work.machine, 0.0) + work.minutes
    timed = [minutes for machine, minutes in spent.items() if machine not in untold]
    return Measured(statistics.fmean(timed), mean_interval(timed)) if timed else None
