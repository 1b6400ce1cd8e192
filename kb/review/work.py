"""The closed jobs that a review counts, as the index has them; what was retracted is left out."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass

from kb.review.period import ALWAYS, Period
from kb.review.reach import Worked


@dataclass(frozen=True, slots=True)
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


def works(connection: sqlite3.Connection, model: str = "", period: Period = ALWAYS) -> tuple[Work, ...]:
    """The jobs of a model, or of all, closed within the period, oldest first."""
    rows = connection.execute(
        "SELECT job, model, unit, cause, words, minutes, part, donor, closed_at FROM job WHERE retracted = '' "
        "AND (? = '' OR model = ? COLLATE NOCASE) AND closed_at >= ? AND closed_at < ? ORDER BY closed_at, job",
        (model.strip(), model.strip(), period.begin, period.end),
    )
    return tuple(
        Work(job, name, machine_key(name, unit, job), cause, words, minutes, part, donor, closed_at)
        for job, name, unit, cause, words, minutes, part, donor, closed_at in rows
    )


def working_days(connection: sqlite3.Connection) -> list[Worked]:
    """The days (UTC) on which jobs of the shop were closed, first one first."""
    found = connection.execute(
        "SELECT min(closed_at), max(closed_at), count(*) FROM job WHERE retracted = '' "
        "GROUP BY substr(closed_at, 1, 10) ORDER BY 1"
    )
    return [Worked(*day) for day in found]
