"""The overview of what a shop looks back on, of one model or of all: failures, trend, parts to keep, models, gaps."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from kb.history import History
from kb.history.units import is_unknown
from kb.index.index import Index
from kb.model import Entry
from kb.review import demand, gaps, models
from kb.review import work as benchwork
from kb.review.demand import Needed
from kb.review.failures import Review, review
from kb.review.gaps import Gap
from kb.review.kept import KeptSums, Sums, summed
from kb.review.models import ModelLine
from kb.review.period import Period, Span
from kb.review.reach import WorkingDays, reach
from kb.review.sums import FailureSums, failures_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Overview:
    """The review with what belongs beside it; `span` are the days it rests on.

    `strays` are jobs of the shop, whatever model and days are asked for, that are dated far from all others: they
    lengthen no span.
    """

    review: Review
    period: Period
    span: Span
    stock: tuple[Needed, ...]
    models: tuple[ModelLine, ...]
    gaps: tuple[Gap, ...]
    unconfirmed: tuple[Entry, ...]
    strays: int = 0


def overview(
    index: Index,
    history: History | None,
    model: str,
    period: Period,
    *,
    now: datetime | None,
    kept: KeptSums | None = None,
) -> Overview:
    """The overview of the jobs of a model, or of all, within a period; models are compared whatever model is asked.

    `now` is the time, None while the clock is doubted; it tells which jobs are dated in the future. Without a history
    that can be read, what the index does not hold (put-away jobs, taps) counts as none. `kept` are the sums of all
    jobs, where they are kept from one review to the next.
    """
    entries, came_in = index.entries(), index.floor.models()
    all_jobs = _everything(index, came_in, period, kept)
    seen = all_jobs.failures
    if model.strip():
        seen = _of_model(index, came_in, period, model, all_jobs)
    gone = benchwork.put_away(history, came_in, period) if history else ()
    gone_here = [job for job in gone if _is_of(job.model, model)]
    names = _names(entries)
    reached = reach(_days(index, all_jobs, period), now)
    span = period.seen(reached.first, reached.last)
    told = all_jobs.failures.causes
    unlisted = gaps.unlisted(told, names.keys(), index.jobs, came_in, period)
    unlisted_here = [miss for miss in unlisted if _is_of(miss.model, model)]
    missed = gaps.misses(history, gone_here, unlisted_here, model=model, period=period)
    return Overview(
        review=review(seen, names, model, period),
        period=period,
        span=span,
        stock=demand.needed(seen, span.days),
        models=models.compared(all_jobs.models, gone),
        gaps=gaps.gaps(missed),
        unconfirmed=_never_confirmed(entries, seen.causes),
        strays=reached.strays,
    )


def _everything(
    index: Index, came_in: Mapping[str, str], period: Period, kept: KeptSums | None
) -> Sums:
    """What all jobs of the period tell."""
    if kept and not (period.since or period.until):
        return kept.of(index, came_in, period)
    return summed(benchwork.works(index.jobs, came_in, period), period)


def _of_model(
    index: Index,
    came_in: Mapping[str, str],
    period: Period,
    model: str,
    all_jobs: Sums,
) -> FailureSums:
    """What the jobs on a model tell of failures, those of machines that turned out to be of it too."""
    if model.strip().casefold() not in all_jobs.models.jobs:
        return FailureSums(period)
    spelt = {name for _, name in index.jobs.tallied()}
    told = [name for name in spelt if _is_of(name, model) or is_unknown(name)]
    works = benchwork.works(index.jobs, came_in, period, models=told)
    asked_for = {name for name in set(works.models) if _is_of(name, model)}
    return failures_of(works.only([name in asked_for for name in works.models]), period)


def _days(index: Index, all_jobs: Sums, period: Period) -> list[WorkingDays]:
    """The days on which the shop worked, whatever period is asked for."""
    if period.since or period.until:
        return benchwork.working_days(index.jobs)
    return all_jobs.days


def _names(entries: Iterable[Entry]) -> dict[str, str]:
    """What each cause that a sheet lists is called."""
    return {
        f"{entry.slug}/{cause.slug}": cause.text
        for entry in entries
        for cause in entry.causes
    }


def _is_of(model: str, wanted: str) -> bool:
    """Whether a model is the wanted one, whatever its case; every one is if none is named."""
    return not wanted.strip() or model.casefold() == wanted.strip().casefold()


def _never_confirmed(
    entries: Iterable[Entry], causes: Iterable[str]
) -> tuple[Entry, ...]:
    """The entries under which none of the jobs was confirmed, by area and title."""
    confirmed = {cause.partition("/")[0] for cause in causes}
    never = [entry for entry in entries if entry.slug not in confirmed]
    return tuple(sorted(never, key=lambda entry: (entry.area, entry.title)))
