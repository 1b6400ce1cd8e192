"""Jobs that left the bench without a cause: opened, never confirmed, and put away with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from kb.history import History
from kb.review.period import ALWAYS, Period
from kb.review.work import NOBODY, machine_key, model_of


@dataclass(frozen=True, slots=True)
class PutAway:
    """One of them: its machine and complaint, why it was put away and when (UTC)."""

    job: str
    model: str
    machine: str
    words: str
    why: str
    at: str


def put_away(history: History, came_in: Mapping[str, str] = NOBODY, period: Period = ALWAYS) -> tuple[PutAway, ...]:
    """Those put away within the period, in that order, each under the model that its machine turned out to be."""
    found = []
    for record in history.records_since(0, "retract"):
        if not period.holds(record.at):
            continue
        job = history.job_state(record.job)
        if job.closed is None:
            model = model_of(job.model, job.unit, came_in)
            key = machine_key(model, job.unit, job.job)
            found.append(PutAway(job.job, model, key, job.words, job.retracted, record.at))
    return tuple(found)
