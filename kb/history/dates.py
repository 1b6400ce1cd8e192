"""The dates in a history that cannot be right: before 2000, in the future, or far out of order.

Nothing is changed by them: the records stay in their order, and a review leaves out what is dated far from all else.
"""

from __future__ import annotations

import json
from bisect import bisect_right
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from kb.base.clock import A_DAY, FIRST_DAY, OUTDATED, date_doubt, is_believable, stamp
from kb.history.memory import History
from kb.history.record import Record


@dataclass(frozen=True, slots=True)
class Misdated:
    """The numbers of the records with a date that cannot be right, each under what is wrong first of all."""

    before: tuple[int, ...] = ()
    future: tuple[int, ...] = ()
    out_of_order: tuple[int, ...] = ()

    @property
    def count(self) -> int:
        """How many there are."""
        return len(self.before) + len(self.future) + len(self.out_of_order)


def misdated(history: History, now: datetime, doubted: bool = False) -> Misdated:
    """The records whose own time, or the time at which their job was closed, cannot be right.

    The day of a retracted job counts nowhere and is not looked at. Of a clock that is itself `doubted` nothing is
    said to be in the future but what no clock could say. Raises what reading the history raises.
    """
    before: list[int] = []
    future: list[int] = []
    untimely: list[int] = []
    timed: list[tuple[int, str]] = []
    latest = f"{OUTDATED}" if doubted else stamp(now + A_DAY)
    for record, closed_at in _dated(
        history.records_since(), history.retracted_jobs().keys()
    ):
        times = (record.at, closed_at or record.at)
        if min(times) < FIRST_DAY:
            before.append(record.seq)
        elif max(times) > latest:
            future.append(record.seq)
        elif not is_believable(record.at) or (
            closed_at and date_doubt(closed_at, _time(record.at))
        ):
            # from before there were records, or closed after it was written down
            untimely.append(record.seq)
        else:
            timed.append((record.seq, record.at))
    untimely += (timed[place][0] for place in out_of_order([at for _, at in timed]))
    return Misdated(tuple(before), tuple(future), tuple(sorted(untimely)))


def out_of_order(times: Sequence[str]) -> Iterator[int]:
    """The places of the times that stand more than a day out of order, where as few as possible are taken for wrong.

    The others are a longest run that never goes back, found in n log n steps (patience sorting: Fredman 1975, Discrete
    Mathematics 11, from memory).

    >>> days = ["2026-11-23", "2026-11-24", "2015-01-01", "2026-11-25", "2031-01-01", "2026-11-26"]
    >>> list(out_of_order([day + "T10:00:00Z" for day in days]))
    [2, 4]
    """
    run = _longest_run(times)
    for left, right in zip([-1, *run], [*run, len(times)], strict=True):
        for place in range(left + 1, right):  # none where the run goes on at once
            after = left < 0 or _time(times[place]) >= _time(times[left]) - A_DAY
            before = (
                right == len(times)
                or _time(times[place]) <= _time(times[right]) + A_DAY
            )
            if not (after and before):
                yield place


def _longest_run(times: Sequence[str]) -> list[int]:
    """The places of a longest run of times that never goes back."""
    # the earliest time in which a run of each length ends, and where
    ends: list[str] = []
    places: list[int] = []
    before: list[int] = []
    for place, time in enumerate(times):
        length = bisect_right(ends, time)
        before.append(places[length - 1] if length else -1)
        ends[length : length + 1] = [time]
        places[length : length + 1] = [place]
    run = []
    place = places[-1] if places else -1
    while place >= 0:
        run.append(place)
        place = before[place]
    return run[::-1]


def _time(text: str) -> datetime:
    return datetime.fromisoformat(text)


def _dated(
    records: Iterable[Record], retracted: Collection[str]
) -> Iterator[tuple[Record, str]]:
    """Each record with the time at which it closed a job, empty for other records and for retracted jobs."""
    for record in records:
        closes = record.kind == "close" and record.job not in retracted
        yield (
            record,
            str(json.loads(record.body).get("closed_at", "")) if closes else "",
        )
