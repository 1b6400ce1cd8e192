"""The work that a review counts: closed jobs as the index has them, and jobs put away without a cause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from kb.history import History
from kb.history.intake import tag_key
from kb.history.units import is_unknown
from kb.index.jobs import JobTable
from kb.review.period import ALWAYS, Period
from kb.review.reach import WorkingDays

#: No machine has come in.
NOBODY: Mapping[str, str] = {}


class Work(NamedTuple):
    """One closed job: `machine` tells machines apart, `cause` is `entry/cause`, `closed_at` is UTC."""

    job: str
    model: str
    machine: str
    cause: str
    words: str
    minutes: float | None
    part: str
    donor: str
    closed_at: str

    @property
    def entry(self) -> str:
        """The slug of the entry the cause belongs to."""
        return self.cause.partition("/")[0]


def machine_key(model: str, unit: str, job: str) -> str:
    """What tells a machine from others: its tag among those of its model; a job without a tag is a machine of its own.

    Neither case nor blanks of a tag count.

    >>> machine_key("Tern 13", "T-07", "a1"), machine_key("TERN 13", "t-07", "b2"), machine_key("Tern 13", "", "c3")
    ('tern 13|t-07', 'tern 13|t-07', 'c3')
    """
    tag = tag_key(unit)
    return f"{model.casefold()}|{tag}" if tag else job


def model_of(model: str, unit: str, came_in: Mapping[str, str]) -> str:
    """The model of a job: what was told with it, or where that was not known yet, what its machine turned out to be.

    `came_in` gives the models of machines by their folded tags.

    >>> model_of("unknown", "P7 - 012", {"p7-012": "Tern 13"}), model_of("Skua 14", "P7-012", {"p7-012": "Tern 13"})
    ('Tern 13', 'Skua 14')
    """
    return came_in.get(tag_key(unit), model) if is_unknown(model) else model


def works(jobs: JobTable, came_in: Mapping[str, str] = NOBODY, period: Period = ALWAYS) -> tuple[Work, ...]:
    """The jobs closed within the period, oldest first, each under the model that its machine turned out to be."""
    found = []
    for row in jobs.closed("", period.begin, period.end):
        model = model_of(row.model, row.unit, came_in)
        found.append(
            Work(
                job=row.job,
                model=model,
                machine=machine_key(model, row.unit, row.job),
                cause=row.cause,
                words=row.words,
                minutes=row.minutes,
                part=row.part,
                donor=row.donor,
                closed_at=row.closed_at,
            )
        )
    return tuple(found)


def working_days(jobs: JobTable) -> list[WorkingDays]:
    """The days (UTC) on which jobs of the shop were closed, first one first."""
    return [WorkingDays(*day) for day in jobs.days()]


@dataclass(frozen=True, slots=True)
class PutAway:
    """A job that left the bench without a cause: its machine and complaint, why it was put away and when (UTC)."""

    job: str
    model: str
    machine: str
    words: str
    why: str
    at: str


def put_away(history: History, came_in: Mapping[str, str] = NOBODY, period: Period = ALWAYS) -> tuple[PutAway, ...]:
    """The jobs put away within the period, in that order, each under the model that its machine turned out to be."""
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
