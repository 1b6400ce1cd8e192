"""Everything a shop looks back on, of one model or of all: failures, trend, parts to keep, models, gaps."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from kb.history import History
from kb.model import Entry
from kb.review import demand, gaps, models, putaway
from kb.review import work as benchwork
from kb.review.demand import Needed
from kb.review.failures import Review, review
from kb.review.gaps import Gap
from kb.review.models import ModelLine
from kb.review.period import Period, Span
from kb.review.reach import reach


@dataclass(frozen=True, slots=True)
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
    connection: sqlite3.Connection,
    history: History | None,
    entries: Sequence[Entry],
    model: str,
    period: Period,
    *,
    now: datetime | None,
) -> Overview:
    """The overview of the jobs of a model, or of all, within a period; models are compared whatever model is asked.

    `now` is the time, None while the clock is doubted; it tells which jobs are dated in the future. Without a history
    that can be read, what the index does not hold (put-away jobs, taps) counts as none.
    """
    everything = benchwork.works(connection, "", period)
    wanted = model.strip().casefold()
    works = [work for work in everything if not wanted or work.model.casefold() == wanted]
    gone = putaway.put_away(history, "", period) if history else ()
    gone_here = [job for job in gone if not wanted or job.model.casefold() == wanted]
    names = {f"{entry.slug}/{cause.slug}": cause.text for entry in entries for cause in entry.causes}
    reached = reach(benchwork.working_days(connection), now)
    span = period.seen(reached.first, reached.last)
    confirmed = {work.entry for work in works}
    never = (entry for entry in entries if entry.slug not in confirmed)
    return Overview(
        review(works, names, model, period), period, span,
        demand.needed(works, span.days), models.compared(everything, gone),
        gaps.gaps(gaps.misses(history, works, gone_here, names.keys(), model, period)),
        tuple(sorted(never, key=lambda entry: (entry.area, entry.title))), reached.strays,
    )  # fmt: skip
