"""The work that a review counts, closed jobs as the index has them; what was retracted is left out."""

from __future__ import annotations

from dataclasses import dataclass

from kb.index.jobs import JobTable
from kb.review.period import ALWAYS, Period
from kb.review.reach import WorkingDays


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
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

    >>> machine_key("Tern 13", "T-07", "a1"), machine_key("TERN 13", "t-07", "b2"), machine_key("Tern 13", "", "c3")
    ('tern 13|t-07', 'tern 13|t-07', 'c3')
    """
    return f"{model.casefold()}|{unit.casefold()}" if unit else job


def works(jobs: JobTable, model: str = "", period: Period = ALWAYS) -> tuple[Work, ...]:
    """The jobs of a model, or of all, closed within the period, oldest first."""
    return tuple(
        Work(
            job=row.job,
            model=row.model,
            machine=machine_key(row.model, row.unit, row.job),
            cause=row.cause,
            words=row.words,
            minutes=row.minutes,
            part=row.part,
            donor=row.donor,
            closed_at=row.closed_at,
        )
        for row in jobs.closed(model, period.begin, period.end)
    )


def working_days(jobs: JobTable) -> list[WorkingDays]:
    """The days (UTC) on which jobs of the shop were closed, first one first."""
    return [WorkingDays(*day) for day in jobs.days()]
