"""Gaps of the library: complaints that led nowhere, as the history tells of them.

Three things are counted, all of them deliberate acts; a search that was only typed is written down nowhere:

- somebody pressed "Nothing here fits" (a record of kind `no-fit`),
- a job was put away without a cause,
- a job was closed under a cause that no entry lists (taken in from another shop, or its entry was removed since).
"""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from kb.history import History, kinds
from kb.index.jobs import JobTable
from kb.review.period import ALWAYS, Period
from kb.review.work import NOBODY, PutAway, works

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
    gone: Iterable[PutAway],
    unlisted: Iterable[Miss],
    *,
    model: str = "",
    period: Period = ALWAYS,
) -> Iterator[Miss]:
    """Every time the library did not help on a model, or on any, with those under causes that no entry lists."""
    wanted = model.strip().casefold()
    for record in history.records_since(0, kinds.NO_FIT.name) if history else ():
        said = json.loads(record.body)
        miss = Miss(
            str(said.get("words", "")), str(said.get("model", "")), "no-fit", record.at
        )
        if period.holds(record.at) and (not wanted or miss.model.casefold() == wanted):
            yield miss
    for job in gone:
        yield Miss(job.words, job.model, "put-away", job.at)
    yield from unlisted


def unlisted(
    told: Collection[str],
    listed: Collection[str],
    jobs: JobTable,
    came_in: Mapping[str, str] = NOBODY,
    period: Period = ALWAYS,
) -> list[Miss]:
    """The jobs of a period that were closed under a cause that no entry lists; `told` are all of its causes."""
    causes = set(told).difference(listed)
    if not causes:
        return []
    found = works(jobs, came_in, period, causes=causes)
    words = jobs.words_under(causes, period.begin, period.end)
    cases = zip(words, found.causes, found.models, found.closed_at, strict=True)
    return [
        Miss(said or cause, model, "unlisted", at) for said, cause, model, at in cases
    ]


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
    return Gap(
        found[0].words,
        ways.count("no-fit"),
        ways.count("put-away"),
        ways.count("unlisted"),
        models,
        last,
    )
