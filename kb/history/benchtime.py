"""Bench time: how long a job has been worked on, as far as the clock and what people said of it can tell."""

from __future__ import annotations

from datetime import datetime

from kb.history.jobs import OpenJob
from kb.model import Test

#: A job that has been worked on for longer without a break was left without saying so.
LONGEST_MINUTES = 480
#: Why a job was taken up: from another one, so that no test was done before it was opened.
FROM_ANOTHER = "from another job"


def minutes_on_the_bench(
    job: OpenJob, now: datetime, first: Test | None
) -> float | None:
    """Whole minutes in which somebody worked on the job, and those of the first test, which was done before.

    A job of which nobody said that it was taken up or left has been worked on since it was opened. Somebody who came
    from another job did the first test on that one's clock. None when the clock cannot tell (backwards, or over eight
    hours at a stretch).
    """
    if not job.opened_at:
        return None
    stretches = worked(job, now)
    if any(not 0 <= stretch <= LONGEST_MINUTES for stretch in stretches):
        return None
    came_over = bool(job.turns) and job.turns[0].why == FROM_ANOTHER
    before = first.minutes if first and not came_over else 0.0
    return float(round(sum(stretches) + before))


def worked(job: OpenJob, now: datetime) -> list[float]:
    """The stretches in which anybody worked on the job, in minutes.

    >>> from datetime import UTC
    >>> from kb.history.jobs import ClockTurn
    >>> turns = [("10:00", True, "Ada"), ("10:04", False, "Ada"), ("10:20", True, "Ada"), ("10:22", True, "Bo")]
    >>> told = tuple(ClockTurn(f"2026-11-24T{at}:00Z", on, by) for at, on, by in turns)
    >>> job = OpenJob(job="x", opened_at="2026-11-24T10:00:00Z", turns=told)
    >>> worked(job, datetime(2026, 11, 24, 10, 30, tzinfo=UTC))
    [4.0, 10.0]
    """
    if not job.turns:
        return [_minutes(job.opened_at, now)]
    stretches = []
    running = set() if job.turns[0].on else {job.turns[0].by}
    since = job.opened_at if running else ""
    for turn in job.turns:
        (running.add if turn.on else running.discard)(turn.by)
        if running and not since:
            since = turn.at
        elif since and not running:
            stretches.append(_minutes(since, datetime.fromisoformat(turn.at)))
            since = ""
    return [*stretches, _minutes(since, now)] if since else stretches


def _minutes(since: str, until: datetime) -> float:
    return (until - datetime.fromisoformat(since)).total_seconds() / 60
