"""The table of closed jobs in the index, and every question asked of it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from typing import NamedTuple

from kb.history import fields
from kb.index.spoken import UNITS, Shift, SpokenTable
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
CREATE INDEX job_by_words ON job (read_words, entry, cause, model) WHERE retracted = '';
CREATE INDEX job_by_time ON job (closed_at, job) WHERE retracted = '';
CREATE INDEX job_with_donor ON job (seq) WHERE donor <> '' AND part <> '' AND retracted = '';
CREATE TABLE tally (
    entry TEXT NOT NULL, cause TEXT NOT NULL, model TEXT NOT NULL, jobs INTEGER NOT NULL, units INTEGER NOT NULL,
    PRIMARY KEY (entry, cause, model)
) STRICT, WITHOUT ROWID;
"""

_TALLY = (
    "INSERT INTO tally VALUES (?, ?, ?, ?, ?) ON CONFLICT (entry, cause, model) "
    "DO UPDATE SET jobs = jobs + excluded.jobs, units = units + excluded.units"
)


#: Words under which more jobs were confirmed say nothing by themselves.
MOST_UNDER = 200


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
    """The closed jobs of an open index; what was retracted counts nowhere.

    How many there are of each cause on each model is kept beside them, so that no question goes through all of them.
    """

    def __init__(self, connection: sqlite3.Connection, spoken: SpokenTable) -> None:
        self._connection = connection
        self._spoken = spoken

    def put(self, seq: int, job: Job, read_words: str) -> str:
        """Take in a closed job; one that is known already is left alone. Gives the words to settle, empty if none."""
        told = told_of(job)
        if not self._insert(seq, told, read_words, ""):
            return ""
        entry = str(told[COLUMNS.index("entry")])
        units = self._spoken.count(read_words, entry, 1)
        self._connection.execute(_TALLY, (entry, job.cause, job.model, 1, units))
        return read_words

    def retract(self, seq: int, job: str) -> str:
        """Take a job out of every count; gives the words to settle, empty if none.

        One put away before it was closed stays out if it comes in closed later.
        """
        found = self._connection.execute(
            "SELECT entry, cause, model, read_words FROM job WHERE job = ? AND retracted = ''", (job,)
        ).fetchone()
        if found is None:
            self._insert(seq, told_of(Job(job, model="", cause="", closed_at="")), "", "retracted")
            return ""
        entry, cause, model, words = found
        units = self._spoken.count(words, entry, -1)
        self._connection.execute(_TALLY, (entry, cause, model, -1, -units))
        self._connection.execute(
            "DELETE FROM tally WHERE entry = ? AND cause = ? AND model = ? AND jobs = 0", (entry, cause, model)
        )
        self._connection.execute("UPDATE job SET retracted = 'retracted' WHERE job = ?", (job,))
        return str(words)

    def _insert(self, seq: int, told: tuple[object, ...], read_words: str, retracted: str) -> bool:
        """Whether a job was not known yet."""
        done = self._connection.execute(
            f"INSERT OR IGNORE INTO job (seq, read_words, retracted, {_TOLD}) VALUES (?, ?, ?, "
            f"{', '.join('?' * len(told))})",
            (seq, read_words, retracted, *told),
        )
        return done.rowcount == 1

    def settle(self, words: str) -> list[Shift]:
        """Share words anew between the entries under which jobs told them; gives the shares that changed."""
        shifts = self._spoken.settle(words)
        moved = {shift.entry: shift.units for shift in shifts}
        if not moved:
            return []
        alike = self._connection.execute(
            "SELECT entry, cause, model, count(*) FROM job WHERE read_words = ? AND retracted = '' GROUP BY 1, 2, 3",
            (words,),
        ).fetchall()
        self._connection.executemany(
            _TALLY,
            [(entry, cause, model, 0, jobs * moved[entry]) for entry, cause, model, jobs in alike if entry in moved],
        )
        return shifts

    def forget(self) -> None:
        """Forget every job."""
        self._connection.execute("DELETE FROM job")
        self._connection.execute("DELETE FROM tally")
        self._spoken.forget()

    def held(self) -> Iterator[tuple[object, ...]]:
        """What is held of every job that counts, each as `told_of` gives it, in the order of the history."""
        return self._connection.execute(f"SELECT {_TOLD} FROM job WHERE retracted = '' ORDER BY seq")

    def models(self) -> list[str]:
        """The models that were worked on, most frequent first, each as it is written most often."""
        rows = self._connection.execute(
            "SELECT model, sum(jobs) AS every, max(jobs) FROM (SELECT model, sum(jobs) AS jobs FROM tally "
            "GROUP BY model) GROUP BY model COLLATE NOCASE ORDER BY every DESC, model"
        )
        return [str(model) for model, *_ in rows]

    def alike(self, model: str, by_day: bool) -> Iterator[JobsAlike]:
        """The jobs put together that are of one cause and on the model or not, and with `by_day` of one day.

        By day all jobs are gone through.
        """
        here = "model = ?1 COLLATE NOCASE AND ?1 <> '' AS here"
        name = "substr(cause, length(entry) + 2) AS name"
        tallied = f"SELECT entry, {name}, {here}, '' AS day, sum(jobs), sum(units) FROM tally GROUP BY 1, 2, 3"
        daily = (
            f"SELECT job.entry, {name.replace('entry', 'job.entry')}, {here}, substr(closed_at, 1, 10) AS day, "
            f"count(*), sum(coalesce(said.units, {UNITS})) FROM job LEFT JOIN said ON said.text = job.read_words "
            "AND said.entry = job.entry WHERE retracted = '' GROUP BY 1, 2, 3, 4"
        )
        for row in self._connection.execute(daily if by_day else tallied, (model.strip(),)):
            entry, cause, on_it, day, jobs, units = row
            yield JobsAlike(entry, cause, on_it, day, jobs, units / UNITS)

    def under(self, read_words: str, model: str) -> list[tuple[str, str, int]]:
        """How many jobs on a model were told in these very words, by entry and cause (`entry/cause`).

        None of them for words under which so many were confirmed that they say nothing ("broken").
        """
        said = self._connection.execute("SELECT sum(jobs) FROM said WHERE text = ?", (read_words,)).fetchone()[0]
        if not read_words or not said or said > MOST_UNDER:
            return []
        return self._connection.execute(
            "SELECT entry, cause, count(*) FROM job WHERE read_words = ? AND retracted = '' "
            "AND model = ? COLLATE NOCASE GROUP BY 1, 2 ORDER BY 1, 2",
            (read_words, model.strip()),
        ).fetchall()

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

    def donated(self) -> Iterator[JobRow]:
        """The jobs that a donor's part ended, in the order of the history."""
        rows = self._connection.execute(
            f"SELECT {', '.join(JobRow._fields)} FROM job INDEXED BY job_with_donor "
            "WHERE donor <> '' AND part <> '' AND retracted = '' ORDER BY seq"
        )
        return map(JobRow._make, rows)

    def days(self) -> list[tuple[str, str, int]]:
        """The days (UTC) on which jobs were closed: the first and the last time of each, and how many, in order."""
        rows = self._connection.execute(
            "SELECT min(closed_at), max(closed_at), count(*) FROM job WHERE retracted = '' "
            "GROUP BY substr(closed_at, 1, 10) ORDER BY 1"
        )
        return [(first, last, number) for first, last, number in rows]
