"""The clock a history is given, and when not to believe it, or a date."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

from kb.base.worded import worded

#: Gives the present time with its time zone.
Clock = Callable[[], datetime]

#: No clock is right that says an earlier year than the one this program was written in, or one a working life later.
WRITTEN, OUTDATED = 2026, 2056
#: No job was closed before that day: databases write such dates for "none", and clocks with a flat cell for today.
FIRST_DAY = "2000-01-01"
#: Two clocks may be so far apart, and one may be set back by so much, without anybody being asked.
USUAL_DRIFT = timedelta(minutes=5)
#: What lies further ahead than that is in the future, whatever the zone and the drift.
A_DAY = timedelta(days=1)
#: The minutes of a month at the bench: 20 days of eight hours and a bit.
WORKING_MONTH = 10_000
#: A history rarely rests for longer than that.
LONG_REST = timedelta(days=731)


def utc_now() -> datetime:
    """The system's clock."""
    return datetime.now(UTC)


def stamp(given: datetime) -> str:
    """An aware time as text: UTC, to the second, trailing Z; raises ValueError without a time zone.

    >>> stamp(datetime(2026, 11, 24, 10, 15, tzinfo=UTC))
    '2026-11-24T10:15:00Z'
    """
    if given.tzinfo is None:
        raise ValueError(
            "a time without its zone cannot be placed; give an aware datetime"
        )
    return given.astimezone(UTC).replace(microsecond=0, tzinfo=None).isoformat() + "Z"


def clock_doubt(now: datetime, last: str, created: str) -> str:
    """In words why the clock looks wrong, from the time of the last record; empty if it does not.

    Times that cannot be right themselves say nothing against it.

    >>> clock_doubt(datetime(1970, 1, 1, tzinfo=UTC), "", "")
    "the clock says 1970-01-01T00:00:00Z, which cannot be; set the computer's date and time"
    """
    here = stamp(now)
    if not WRITTEN <= now.year < OUTDATED:
        return worded(
            "the clock says {here}, which cannot be; set the computer's date and time",
            here=here,
        )
    known = max((told for told in (last, created) if is_believable(told)), default=here)
    if is_believable(last) and stamp(now + USUAL_DRIFT) < last:
        return worded(
            "the clock says {here}, but the last record is of {last}; check the computer's date and time",
            here=here,
            last=last,
        )
    if stamp(now - LONG_REST) > known:
        return worded(
            "the clock says {here}, more than two years after the last record of {known}; check the "
            "computer's date and time",
            here=here,
            known=known,
        )
    return ""


def is_believable(moment: str) -> bool:
    """Whether a time as `stamp` writes it can have come from a clock that is right.

    >>> is_believable("2026-11-24T10:15:00Z"), is_believable("1970-01-01T00:00:00Z"), is_believable("")
    (True, False, False)
    """
    return f"{WRITTEN}" <= moment < f"{OUTDATED}"


def date_doubt(moment: str, now: datetime) -> str:
    """In words why nothing can have happened at a time (UTC, as `stamp` writes it); empty if it can.

    >>> now = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)
    >>> date_doubt("9999-12-31T00:00:00Z", now), date_doubt("2024-02-29T12:00:00Z", now)
    ('lies in the future (the clock here says 2026-11-24T10:15:00Z)', '')
    """
    if moment < FIRST_DAY:
        return worded("lies before {first_day}", first_day=FIRST_DAY[:4])
    if moment > stamp(min(now, _END - A_DAY) + A_DAY):
        return worded("lies in the future (the clock here says {now})", now=stamp(now))
    return ""


_END = datetime.max.replace(tzinfo=UTC)
