"""A period, a stretch of days in the shop's zone, and where moments in UTC fall in it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

from kb.base.clock import stamp
from kb.review.trend import quarter

#: Sorts after every time.
NEVER = "~"


@dataclass(frozen=True, slots=True)
class Span:
    """The first and the last day that count, both included, and how many they are; no days if nothing happened."""

    first: str = ""
    last: str = ""
    days: int = 0


@dataclass(frozen=True, slots=True)
class Period:
    """From the first moment of the day `since` to the last of `until` (YYYY-MM-DD); empty: without an end on that side.

    Days begin at midnight in `zone`, None for the computer's own.
    """

    since: str = ""
    until: str = ""
    zone: tzinfo | None = None

    @property
    def begin(self) -> str:
        """The first moment, in UTC; ValueError for what is no day.

        >>> from zoneinfo import ZoneInfo
        >>> Period("2026-07-01", zone=ZoneInfo("Europe/Oslo")).begin
        '2026-06-30T22:00:00Z'
        """
        return (
            _midnight(date.fromisoformat(self.since), self.zone, "")
            if self.since
            else ""
        )

    @property
    def end(self) -> str:
        """The first moment after it, in UTC; ValueError for what is no day.

        >>> Period(until="2026-06-30", zone=UTC).end
        '2026-07-01T00:00:00Z'
        """
        if not self.until:
            return NEVER
        last = date.fromisoformat(self.until)
        return (
            NEVER
            if last == date.max
            else _midnight(last + timedelta(days=1), self.zone, NEVER)
        )

    def holds(self, moment: str) -> bool:
        """Whether a time falls into it."""
        return self.begin <= moment < self.end

    def day(self, moment: str) -> str:
        """The shop's day of a time, or the first ten signs of what is no time.

        >>> from zoneinfo import ZoneInfo
        >>> Period(zone=ZoneInfo("Europe/Oslo")).day("2026-06-30T23:30:00Z")
        '2026-07-01'
        """
        try:
            return (
                datetime.fromisoformat(moment).astimezone(self.zone).date().isoformat()
            )
        except (ValueError, OverflowError):
            return moment[:10]

    def quarters(self, moments: Sequence[str]) -> list[str]:
        """The quarter of each of those times, oldest first as they are; only where one ends is looked up.

        >>> from zoneinfo import ZoneInfo
        >>> Period(zone=ZoneInfo("Europe/Oslo")).quarters(["2026-06-30T21:30:00Z", "2026-06-30T23:30:00Z"])
        ['2026-Q2', '2026-Q3']
        """
        found: list[str] = []
        while len(found) < len(moments):
            name = quarter(self.day(moments[len(found)]))
            begins = bisect_left(
                moments,
                True,
                len(found),
                key=lambda moment: quarter(self.day(moment)) > name,
            )
            found += [name] * (begins - len(found))
        return found

    def seen(self, first: str, last: str) -> Span:
        """The days of it that lie within the shop's own, from its first recorded time to its last.

        Before the first and after the last nothing was written down, so that those days say nothing of how much a
        shop needs.

        >>> Period("2026-01-01", "2026-03-31", UTC).seen("2025-06-01T08:00:00Z", "2026-01-10T08:00:00Z")
        Span(first='2026-01-01', last='2026-01-10', days=10)
        """
        if not first:
            return Span()
        begin = max(self.day(first), self.since)
        end = min(self.day(last), self.until or NEVER)
        if end < begin:
            return Span()
        return Span(
            begin, end, (date.fromisoformat(end) - date.fromisoformat(begin)).days + 1
        )


#: Without a beginning and without an end.
ALWAYS = Period()


def _midnight(day: date, zone: tzinfo | None, beyond: str) -> str:
    """The first moment of a day in UTC; `beyond` where the calendar ends."""
    try:
        return stamp(datetime.combine(day, time.min, tzinfo=zone).astimezone(UTC))
    except (ValueError, OverflowError):
        return beyond
