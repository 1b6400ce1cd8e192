"""The reach of a history: its first and its last job, without those that are dated far from all others.

One date that is wrong (1970 from a flat clock cell, 9999 for "none" from another program) would stretch the days over
which a shop is looked back on, and with them every figure per day.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import NamedTuple

from kb.base.clock import A_DAY, FIRST_DAY, OUTDATED

#: Days without a single job that part a history.
PAUSE = timedelta(days=366)
#: A part with at most one job in so many is dated wrongly, or a first try long ago.
ONE_IN = 20


class WorkingDays(NamedTuple):
    """A day, or several, with the times (UTC) of the first and the last job closed and how many there were."""

    first: str
    last: str
    jobs: int


@dataclass(frozen=True, slots=True)
class Reach:
    """The times of the first and the last job that count, empty without any; `strays` lie outside them."""

    first: str = ""
    last: str = ""
    strays: int = 0


def reach(days: Sequence[WorkingDays], now: datetime | None = None) -> Reach:
    """From when to when a history reaches that was worked at on those days, first one first.

    A part of it beyond a long pause, or beyond `now`, that holds next to no jobs is left out, unless it is the work of
    the last year. Without `now`, as where the clock is doubted, nothing is known of the future. What no clock can say
    is left out in any case.

    >>> strays = ("1970-01-01T00:00:00Z", "2015-01-01T00:00:00Z", "9999-12-31T00:00:00Z")
    >>> lone = [WorkingDays(day, day, 1) for day in strays]
    >>> years = WorkingDays("2024-03-01T09:00:00Z", "2026-11-24T10:15:00Z", 997)
    >>> reach([*lone[:2], years, lone[2]])
    Reach(first='2024-03-01T09:00:00Z', last='2026-11-24T10:15:00Z', strays=3)
    """
    everything = sum(day.jobs for day in days)
    possible = [
        day for day in days if day.first >= FIRST_DAY and day.last < f"{OUTDATED}"
    ]
    parts = _parts(possible, now)
    if not parts:
        return Reach(strays=everything)
    next_to_none = max(1, everything // ONE_IN)
    kept = [
        part for part in parts if part.jobs > next_to_none or _is_recent(part, now)
    ] or parts
    within = parts[parts.index(kept[0]) : parts.index(kept[-1]) + 1]
    return Reach(
        kept[0].first, kept[-1].last, everything - sum(part.jobs for part in within)
    )


def _parts(days: Iterable[WorkingDays], now: datetime | None) -> list[WorkingDays]:
    """The days put together as long as no long pause and no beginning of the future lies between them."""
    parts: list[WorkingDays] = []
    for day in days:
        if parts and not _are_parted(parts[-1].last, day.first, now):
            parts[-1] = WorkingDays(
                parts[-1].first, day.last, parts[-1].jobs + day.jobs
            )
        else:
            parts.append(day)
    return parts


def _are_parted(one: str, next_one: str, now: datetime | None) -> bool:
    earlier, later = datetime.fromisoformat(one), datetime.fromisoformat(next_one)
    return later - earlier > PAUSE or (
        now is not None and earlier <= now + A_DAY < later
    )


def _is_recent(part: WorkingDays, now: datetime | None) -> bool:
    return (
        now is not None
        and now - PAUSE <= datetime.fromisoformat(part.last) <= now + A_DAY
    )
