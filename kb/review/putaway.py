"""Jobs that left the bench without a cause: opened, never confirmed, and put away with a reason."""

from __future__ import annotations

from dataclasses import dataclass

from kb.history import History
from kb.review.period import ALWAYS, Period
from kb.review.work import machine_key


@dataclass(frozen=True, slots=True)
class PutAway:
    """One of them: its machine and complaint, why it was put away and when (UTC)."""

    job: str
    model: str
    machine: str
    words: str
    why: str
    at: str


def put_away(history: History, model: str = "", period: Period = ALWAYS) -> tuple[PutAway, ...]:
    """Those of a model, or of all, put away within the period, in that order."""
    wanted = model.strip().casefold()
    found = []
    for record in history.records_since(0, "retract"):
        if not period.holds(record.at):
            continue
        job = history.job_state(record.job)
        if job.closed is None and (not wanted or job.model.casefold() == wanted):
            key = machine_key(job.model, job.unit, job.job)
            found.append(PutAway(job.job, job.model, key, job.words, job.retracted, record.at))
    return tuple(found)
