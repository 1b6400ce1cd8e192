"""The clock a history is given, and when not to believe it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

#: Gives the present time with its time zone.
Clock = Callable[[], datetime]


def utc_now() -> datetime:
    """The system's clock."""
    return datetime.now(UTC)


def stamp(given: datetime) -> str:
    """An aware time as text: UTC, to the second, trailing Z; raises ValueError without a time zone.

    >>> stamp(datetime(2026, 11, 24, 10, 15, tzinfo=UTC))
    '2026-11-24T10:15:00Z'
    """
    if given.tzinfo is None:
        raise ValueError("a time without its zone cannot be placed; give an aware datetime")
    return given.astimezone(UTC).replace(microsecond=0, tzinfo=None).isoformat() + "Z"


def clock_doubt(now: datetime, last: str, created: str) -> str:
    """In words why the clock looks wrong, from the time of the last record; empty if it does not.

    >>> clock_doubt(datetime(1970, 1, 1, tzinfo=UTC), "", "")
    "the clock says 1970-01-01T00:00:00Z, which cannot be; set the computer's date and time"
    """
    here = stamp(now)
    if not 2020 <= now.year <= 2100:
        return f"the clock says {here}, which cannot be; set the computer's date and time"
    if here < last:
        return f"the clock says {here}, but the last record is of {last}; check the computer's date and time"
    if stamp(now - timedelta(days=731)) > max(last, created):
        return (
            f"the clock says {here}, more than two years after the last record of {max(last, created)}; "
            "check the computer's date and time"
        )
    return ""
