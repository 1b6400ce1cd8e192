"""Bench time: how long a job has been on the bench, as far as the clock can tell."""

from __future__ import annotations

from datetime import datetime

from kb.history.jobs import OpenJob
from kb.model import Test

#: A job that has been open for longer was not worked on all the time.
LONGEST_MINUTES = 480


def minutes_on_the_bench(job: OpenJob, now: datetime, first: Test | None) -> float | None:
    """Whole minutes since the job was opened, and those of the first test, which was done before it was.

    None when the clock cannot tell (backwards, or over eight hours).
    """
    if not job.opened_at:
        return None
    minutes = (now - datetime.fromisoformat(job.opened_at)).total_seconds() / 60
    before = first.minutes if first else 0.0
    return float(round(minutes + before)) if 0 <= minutes <= LONGEST_MINUTES else None
