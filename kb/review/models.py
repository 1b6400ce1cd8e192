"""Models beside each other: how much work a machine of each has been, and how sure that is."""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kb.base.intervals import mean_interval, poisson, wilson
from kb.base.quantiles import Interval
from kb.review.sums import ModelSums
from kb.review.work import PutAway


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


def compared(sums: ModelSums, gone: Iterable[PutAway] = ()) -> tuple[ModelLine, ...]:
    """Every model, the one with the least bench minutes a machine first.

    Ordered by the upper end of the minutes' interval, so that a model hardly seen is not praised for one lucky
    machine; those without an interval come last, ties by name.
    """
    machines, timed = Counter(sums.model_of.values()), sums.timed()
    without = {
        (job.model.casefold(), job.machine)
        for job in gone
        if job.machine not in sums.model_of
    }
    put_away = Counter(name for name, _ in without)
    lines = []
    for name, count in sums.jobs.items():
        told = _Told(count, sums.parts[name], machines[name], put_away[name])
        lines.append(_line(sums.written[name], told, timed[name]))
    return tuple(sorted(lines, key=lambda line: (_dearest(line), line.model)))


@dataclass(frozen=True, slots=True)
class _Told:
    """What was counted on a model: jobs, parts used, machines with a cause, and machines put away without one."""

    jobs: int
    parts: int
    machines: int
    put_away: int


def _dearest(line: ModelLine) -> float:
    interval = line.minutes.interval if line.minutes else None
    return interval.high if interval else float("inf")


def _line(model: str, told: _Told, timed: Sequence[float]) -> ModelLine:
    seen, done = told.machines, told.machines + told.put_away
    return ModelLine(
        model=model,
        machines=seen,
        jobs=Measured(told.jobs / seen, poisson(told.jobs, seen)),
        minutes=Measured(statistics.fmean(timed), mean_interval(timed))
        if timed
        else None,
        parts=Measured(told.parts / seen, poisson(told.parts, seen)),
        good=Measured(seen / done, wilson(seen, done)),
        put_away=told.put_away,
    )
