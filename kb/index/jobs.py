"""The table of closed jobs in the index, and every question asked of it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from kb.history import fields
from kb.model import Job

#: What is told of a job in the order of the columns; the entry is the first half of its cause.
COLUMNS = ("job", "shop", "entry", *(field.name for field in fields.BODY))
_NUMBERS = frozenset(field.name for field in fields.BODY if field.sort == "number")
_TOLD = ", ".join(COLUMNS)
_TYPES = ", ".join(f"{name} REAL" if name in _NUMBERS else f"{name} TEXT NOT NULL" for name in COLUMNS)

SCHEMA = f"""
CREATE TABLE job (
    seq INTEGER PRIMARY KEY, read_words TEXT NOT NULL, retracted TEXT NOT NULL DEFAULT '', {_TYPES}, UNIQUE (job)
) STRICT;
CREATE INDEX job_by_entry ON job (entry, model);
CREATE INDEX job_by_words ON job (read_words);
"""


@dataclass(frozen=True, slots=True)
class Spoken:
    """A complaint under which causes of an entry were confirmed, and the share of it that belongs there."""

    text: str
    share: float


class JobsAlike(NamedTuple):
    """So many jobs alike: of one cause, on the model or not, closed on one day (empty where days do not matter).

    `telling` sums over them the share that the entry has among all jobs under the same words: 1 for a job under
    words of its own or without words, next to nothing for one of hundreds that were brought in as "broken".
    """

    entry: str
    cause: str
    here: bool
    day: str
    number: int
    telling: float


class JobRow(NamedTuple):
    """A closed job as a review needs it; `closed_at` is UTC."""

    job: str
    model: str
    unit: str
    cause: str
    words: str
    minutes: float | None
    part: str
    donor: str
    closed_at: str


def told_of(job: Job) -> tuple[object, ...]:
    """All that the index holds of a job, in the order of its columns; its id first."""
    return tuple(_told(job, name) for name in COLUMNS)


def _told(job: Job, name: str) -> object:
    value = getattr(job, name)
    if name == "outcomes":
        return json.dumps([[found.test, found.outcome] for found in job.outcomes])
    return float(value) if name in _NUMBERS and value is not None else value


class JobTable:
    """The closed jobs of an open index; what was retracted counts nowhere."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def put(self, seq: int, job: Job, read_words: str) -> None:
        """Take in a closed job; one that is known already is left alone."""
        told = told_of(job)
        self._connection.execute(
            f"INSERT OR IGNORE INTO job (seq, read_words, {_TOLD}) VALUES (?, ?, {', '.join('?' * len(told))})",
            (seq, read_words, *told),
        )

    def retract(self, seq: int, job: str) -> None:
        """Take a job out of every count; one put away before it was closed stays out if it comes in closed later."""
        self.put(seq, Job(job, model="", cause="", closed_at=""), "")
        self._connection.execute("UPDATE job SET retracted = 'retracted' WHERE job = ?", (job,))

    def forget(self) -> list[str]:
        """Forget every job; gives the entries that had any."""
        entries = [slug for (slug,) in self._connection.execute("SELECT DISTINCT entry FROM job")]
        self._connection.execute("DELETE FROM job")
        return entries

    def held(self) -> Iterator[tuple[object, ...]]:
        """What is held of every job that counts, each as `told_of` gives it, in the order of the history."""
        return self._connection.execute(f"SELECT {_TOLD} FROM job WHERE retracted = '' ORDER BY seq")

    def entries_of(self, job: str) -> list[str]:
        """The entries whose counts change with that job: its own, and those confirmed under the same words."""
        rows = self._connection.execute(
            "SELECT DISTINCT entry FROM job WHERE job = ? OR (read_words <> '' AND read_words = "
            "(SELECT read_words FROM job WHERE job = ?))",
            (job, job),
        )
        return [slug for (slug,) in rows]

    def spoken(self, entry: str) -> list[Spoken]:
        """The complaints under which an entry was confirmed, each once, with the share that is this entry's."""
        rows = self._connection.execute(
            "SELECT read_words, CAST(sum(entry = ?) AS REAL) / count(*) FROM job WHERE retracted = '' AND read_words "
            "IN (SELECT read_words FROM job WHERE entry = ? AND retracted = '' AND read_words <> '') "
            "GROUP BY read_words ORDER BY read_words",
            (entry, entry),
        )
        return [Spoken(text, share) for text, share in rows]

    def models(self) -> list[str]:
        """The models that were worked on, most frequent first."""
        rows = self._connection.execute(
            "SELECT model FROM job WHERE retracted = '' GROUP BY model COLLATE NOCASE ORDER BY count(*) DESC, model"
        )
        return [str(model) for (model,) in rows]

    def alike(self, model: str, by_day: bool) -> Iterator[JobsAlike]:
        """The jobs put together that are of one cause and on the model or not, and with `by_day` of one day."""
        day = "substr(closed_at, 1, 10)" if by_day else "''"
        rows = self._connection.execute(
            f"SELECT entry, name, here, day, count(*), sum(CASE read_words WHEN '' THEN 1.0 ELSE share END) FROM "
            f"(SELECT entry, substr(cause, length(entry) + 2) AS name, read_words, {day} AS day, "
            "model = ?1 COLLATE NOCASE AND ?1 <> '' AS here, "
            "CAST(count(*) OVER (PARTITION BY read_words, entry) AS REAL) "
            "/ count(*) OVER (PARTITION BY read_words) AS share FROM job WHERE retracted = '') GROUP BY 1, 2, 3, 4",
            (model.strip(),),
        )
        return map(JobsAlike._make, rows)

    def shown_on(self, entry: str) -> Iterator[tuple[str, list[list[str]]]]:
        """The causes of an entry that were confirmed, each with the tests done on that job and what they showed."""
        rows = self._connection.execute(
            "SELECT substr(cause, length(entry) + 2), outcomes FROM job "
            "WHERE entry = ? AND retracted = '' AND outcomes <> '[]'",
            (entry,),
        )
        return ((cause, json.loads(outcomes)) for cause, outcomes in rows)

    def closed(self, model: str, begin: str, end: str) -> Iterator[JobRow]:
        """The jobs of a model, or of all, closed from `begin` on and before `end` (UTC), oldest first."""
        rows = self._connection.execute(
            f"SELECT {', '.join(JobRow._fields)} FROM job WHERE retracted = '' "
            "AND (?1 = '' OR model = ?1 COLLATE NOCASE) AND closed_at >= ?2 AND closed_at < ?3 ORDER BY closed_at, job",
            (model.strip(), begin, end),
        )
        return map(JobRow._make, rows)

    def days(self) -> list[tuple[str, str, int]]:
        """The days (UTC) on which jobs were closed: the first and the last time of each, and how many, in order."""
        rows = self._connection.execute(
            "SELECT min(closed_at), max(closed_at), count(*) FROM job WHERE retracted = '' "
            "GROUP BY substr(closed_at, 1, 10) ORDER BY 1"
        )
        return [(first, last, number) for first, last, number in rows]
