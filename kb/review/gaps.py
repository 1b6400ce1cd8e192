"""Gaps of the library: complaints that led nowhere, as the history tells of them.

Three things are counted, all of them deliberate acts; a search that was only typed is written down nowhere:

- somebody pressed "Nothing here fits" (a record of kind `no-fit`),
- a job was put away without a cause,
- a job was closed under a cause that no entry lists (taken in from another shop, or its entry was removed since).
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from kb.history import History, kinds
from kb.review.period import ALWAYS, Period
from kb.review.work import PutAway, Work

Way = Literal["no-fit", "put-away", "unlisted"]


@dataclass(frozen=True, slots=True)
class Miss:
    """One time the library did not help: the words, on which model, in which way and when (UTC)."""

    words: str
    model: str
    way: Way
    at: str


@dataclass(frozen=True, slots=True)
class Gap:
    """The same words wherever they led nowhere: how often in each way, on which models, and the last time (UTC)."""

    words: str
    no_fit: int
    put_away: int
    unlisted: int
    models: tuple[str, ...]
    last: str

    @property
    def times(self) -> int:
        """How often in all."""
        return self.no_fit + self.put_away + self.unlisted


def misses(
    history: History | None,
    works: Iterable[Work],
    gone: Iterable[PutAway],
    listed: Collection[str],
    *,
    model: str = "",
    period: Period = ALWAYS,
) -> Iterator[Miss]:
    """Every time the library did not help on a model, or on any; `listed` are the causes that entries list."""
    wanted = model.strip().casefold()
    for record in history.records_since(0, kinds.NO_FIT.name) if history else ():
        said = json.loads(record.body)
        miss = Miss(str(said.get("words", "")), str(said.get("model", "")), "no-fit", record.at)
        if period.holds(record.at) and (not wanted or miss.model.casefold() == wanted):
            yield miss
    for job in gone:
        yield Miss(job.words, job.model, "put-away", job.at)
    for work in works:
        if work.cause not in listed:
            yield Miss(work.words or work.cause, work.model, "unlisted", work.closed_at)


def gaps(found: Iterable[Miss]) -> tuple[Gap, ...]:
    """The misses by their words, whatever case and blanks; most frequent first, then the latest, then by words."""
    by_words: dict[str, list[Miss]] = {}
    for miss in found:
        by_words.setdefault(" ".join(miss.words.casefold().split()), []).append(miss)
    made = [_gap(group) for _, group in sorted(by_words.items())]
    made.sort(key=lambda gap: gap.last, reverse=True)
    return tuple(sorted(made, key=lambda gap: -gap.times))


def _gap(found: list[Miss]) -> Gap:
    ways = [miss.way for miss in found]
    models = tuple(sorted({miss.model for miss in found if miss.model}))
    last = max(miss.at for miss in found)
    return Gap(found[0].words, ways.count("no-fit"), ways.count("put-away"), ways.count("unlisted"), models, last)
