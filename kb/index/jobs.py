"""The table of closed jobs in the index, and every question asked of it."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import compress
from typing import Any, NamedTuple

from kb.history import fields
from kb.history.intake import tag_key
from kb.history.same import folded
from kb.index import names
from kb.index.spoken import UNITS, Shift, SpokenTable
from kb.model import Job

#: What is told of a job in the order of the columns; the entry is the first half of its cause.
COLUMNS = ("job", "shop", "entry", *(told.name for told in fields.BODY))
_NUMBERS = frozenset(told.name for told in fields.BODY if told.sort == "number")
_TOLD = ", ".join(COLUMNS)
_TYPES = ", ".join(
    f"{name} REAL" if name in _NUMBERS else f"{name} TEXT NOT NULL" for name in COLUMNS
)

SCHEMA = f"""
CREATE TABLE job (
    seq INTEGER PRIMARY KEY, read_words TEXT NOT NULL, machine TEXT NOT NULL, retracted TEXT NOT NULL, {_TYPES},
    UNIQUE (job)
) STRICT;
CREATE INDEX job_by_entry ON job (entry, model);
CREATE INDEX job_by_words ON job (read_words, entry, cause, model) WHERE retracted = '';
CREATE INDEX job_by_time ON job (closed_at, job) WHERE retracted = '';
CREATE INDEX job_put_away ON job (seq) WHERE retracted <> '';
CREATE INDEX job_with_donor ON job (seq) WHERE donor <> '' AND part <> '' AND retracted = '';
CREATE TABLE tally (
    entry TEXT NOT NULL, cause TEXT NOT NULL, model TEXT NOT NULL, jobs INTEGER NOT NULL, units INTEGER NOT NULL,
    PRIMARY KEY (entry, cause, model)
) STRICT, WITHOUT ROWID;
"""

_INSERT = (
    f"INSERT OR IGNORE INTO job (seq, read_words, machine, retracted, {_TOLD}) "
    f"VALUES ({', '.join('?' * (4 + len(COLUMNS)))})"
)
#: What is counted beside what is counted already; and the jobs that count, put together as they are tallied.
_ADDED = "ON CONFLICT (entry, cause, model) DO UPDATE SET jobs = jobs + excluded.jobs, units = units + excluded.units"
_TALLY = f"INSERT INTO tally VALUES (?, ?, ?, ?, ?) {_ADDED}"
_TALLIED = (
    f"INSERT INTO tally SELECT job.entry, cause, model, count(*), sum(coalesce(said.units, {UNITS})) "
    "FROM job NOT INDEXED LEFT JOIN said ON said.text = read_words AND said.entry = job.entry WHERE retracted = ''"
)

#: Under what it is noted of which shops the jobs are of our machines, as a list in JSON.
SHOPS = "shops"
_IS_OURS = f"shop IN (SELECT value FROM json_each((SELECT value FROM about WHERE key = '{SHOPS}')))"

_LAST = "SELECT seq, job FROM job WHERE :until IS NULL OR seq <= :until ORDER BY seq DESC LIMIT 1"

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Works:
    """Closed jobs as a review counts them, oldest first, column by column: a hundred thousand are read at once.

    `machines` tell machines apart, `causes` are `entry/cause`, `closed_at` is UTC.
    """

    models: list[str] = field(default_factory=list)
    machines: list[str] = field(default_factory=list)
    causes: list[str] = field(default_factory=list)
    minutes: list[float | None] = field(default_factory=list)
    parts: list[str] = field(default_factory=list)
    donors: list[str] = field(default_factory=list)
    closed_at: list[str] = field(default_factory=list)

    def __len__(self) -> int:
        """How many jobs."""
        return len(self.causes)

    def only(self, kept: Sequence[bool]) -> Works:
        """Those of the jobs that are kept."""
        columns = {
            name: list(compress(getattr(self, name), kept)) for name in self.__slots__
        }
        return Works(**columns)


class ClosedJob(NamedTuple):
    """A closed job as it is taken in: the number of its record, and its complaint as read."""

    seq: int
    job: Job
    read_words: str


class JobRow(NamedTuple):
    """A closed job as the parts it used are told from it; `closed_at` is UTC."""

    job: str
    model: str
    unit: str
    cause: str
    words: str
    minutes: float | None
    part: str
    donor: str
    closed_at: str


def machine_key(model: str, unit: str, job: str) -> str:
    """What tells a machine from others: its tag among those of its model; a job without a tag is a machine of its own.

    Neither case nor blanks of a tag count.

    >>> machine_key("Tern 13", "T-07", "a1"), machine_key("TERN 13", "t-07", "b2"), machine_key("Tern 13", "", "c3")
    ('tern 13|t-07', 'tern 13|t-07', 'c3')
    """
    tag = tag_key(unit)
    return f"{model.casefold()}|{tag}" if tag else job


def told_of(job: Job) -> tuple[object, ...]:
    """All that the index holds of a job, in the order of its columns; its id first."""
    return tuple(_told(job, name) for name in COLUMNS)


def _row_of(seq: int, job: Job, read_words: str, retracted: str) -> tuple[object, ...]:
    """A job as a row of its table."""
    return (
        seq,
        read_words,
        machine_key(job.model, job.unit, job.job),
        retracted,
        *told_of(job),
    )


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

    def put(self, closed: Sequence[ClosedJob]) -> None:
        """Take in closed jobs in the order of the history; those that are known already are left alone.

        Their complaints are to be settled then.
        """
        if not closed:
            return
        self._insert([_row_of(one.seq, one.job, one.read_words, "") for one in closed])
        first = closed[0].seq
        self._spoken.count_since(first)
        self._connection.execute(
            f"{_TALLIED} AND seq >= ? GROUP BY 1, 2, 3 {_ADDED}", (first,)
        )

    def retract(self, seq: int, job: str) -> str:
        """Take a job out of every count; gives the words to settle, empty if none.

        One put away before it was closed stays out if it comes in closed later.
        """
        found = self._connection.execute(
            "SELECT entry, cause, model, read_words FROM job WHERE job = ? AND retracted = ''",
            (job,),
        ).fetchone()
        if found is None:
            self._insert(
                [
                    _row_of(
                        seq, Job(job, model="", cause="", closed_at=""), "", "retracted"
                    )
                ]
            )
            return ""
        entry, cause, model, words = found
        units = self._spoken.count(words, entry, -1)
        self._connection.execute(_TALLY, (entry, cause, model, -1, -units))
        self._connection.execute(
            "DELETE FROM tally WHERE entry = ? AND cause = ? AND model = ? AND jobs = 0",
            (entry, cause, model),
        )
        self._connection.execute(
            "UPDATE job SET retracted = 'retracted' WHERE job = ?", (job,)
        )
        return str(words)

    def named(self, names: Collection[str]) -> list[int]:
        """The numbers of the jobs, retracted ones too, whose model has one of these names (folded)."""
        return self._all_of(
            "SELECT seq FROM job WHERE model IN (SELECT value FROM json_each(?))",
            self._spelt(names),
        )

    def rename(self, named: Mapping[int, Job]) -> None:
        """Give the jobs of those numbers the models that they have here, and count those models anew."""
        before = self._all_of(
            "SELECT DISTINCT model FROM job WHERE seq IN (SELECT value FROM json_each(?))",
            sorted(named),
        )
        self._connection.executemany(
            "UPDATE job SET model = ?, machine = ? WHERE seq = ?",
            [
                (job.model, machine_key(job.model, job.unit, job.job), seq)
                for seq, job in named.items()
            ],
        )
        models = json.dumps(sorted({*before, *(job.model for job in named.values())}))
        self._connection.execute(
            "DELETE FROM tally WHERE model IN (SELECT value FROM json_each(?))",
            (models,),
        )
        self._connection.execute(
            f"{_TALLIED} AND model IN (SELECT value FROM json_each(?)) GROUP BY 1, 2, 3",
            (models,),
        )

    def on_model(self, model: str) -> int:
        """How many jobs that count are on a model, whatever its case."""
        spelt = json.dumps(self._spelt([folded(model)]))
        rows = self._connection.execute(
            "SELECT coalesce(sum(jobs), 0) FROM tally WHERE model IN (SELECT value FROM json_each(?))",
            (spelt,),
        )
        return int(rows.fetchone()[0])

    def _spelt(self, names: Collection[str]) -> list[str]:
        """Every spelling here of these models (folded)."""
        held = self._connection.execute("SELECT DISTINCT model FROM job")
        return [model for (model,) in held if folded(model) in names]

    def _all_of(self, sql: str, given: Sequence[object]) -> list[Any]:
        return [
            found for (found,) in self._connection.execute(sql, (json.dumps(given),))
        ]

    def _insert(self, rows: Sequence[tuple[object, ...]]) -> None:
        """Take in those jobs that are not known yet."""
        self._connection.executemany(_INSERT, rows)

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
            [
                (entry, cause, model, 0, jobs * moved[entry])
                for entry, cause, model, jobs in alike
                if entry in moved
            ],
        )
        return shifts

    def forget(self) -> None:
        """Forget every job."""
        self._connection.execute("DELETE FROM job")
        self._connection.execute("DELETE FROM tally")
        self._spoken.forget()

    def held(self) -> Iterator[tuple[object, ...]]:
        """What is held of every job that counts, each as `told_of` gives it, in the order of the history."""
        return self._connection.execute(
            f"SELECT {_TOLD} FROM job WHERE retracted = '' ORDER BY seq"
        )

    def models(self) -> list[str]:
        """The models that were worked on, most frequent first, each as it is written most often."""
        return [str(model) for model, *_ in self._connection.execute(names.MODELS)]

    def alike(self, model: str, by_day: bool) -> Iterator[JobsAlike]:
        """The jobs put together that are of one cause and on the model or not, and with `by_day` of one day.

        By day all jobs are gone through.
        """
        here = "model = :model COLLATE NOCASE AND :model <> '' AS here"
        name = "substr(cause, length(entry) + 2) AS name"
        tallied = f"SELECT entry, {name}, {here}, '' AS day, sum(jobs), sum(units) FROM tally GROUP BY 1, 2, 3"
        daily = (
            f"SELECT job.entry, {name.replace('entry', 'job.entry')}, {here}, substr(closed_at, 1, 10) AS day, "
            f"count(*), sum(coalesce(said.units, {UNITS})) FROM job LEFT JOIN said ON said.text = job.read_words "
            "AND said.entry = job.entry WHERE retracted = '' GROUP BY 1, 2, 3, 4"
        )
        for row in self._connection.execute(
            daily if by_day else tallied, {"model": model.strip()}
        ):
            entry, cause, on_it, day, jobs, units = row
            yield JobsAlike(entry, cause, on_it, day, jobs, units / UNITS)

    def under(self, read_words: str, model: str) -> list[tuple[str, str, int]]:
        """How many jobs on a model were told in these very words, by entry and cause (`entry/cause`).

        None of them for words under which so many were confirmed that they say nothing ("broken").
        """
        said = self._connection.execute(
            "SELECT sum(jobs) FROM said WHERE text = ?", (read_words,)
        ).fetchone()[0]
        if not read_words or not said or said > MOST_UNDER:
            return []
        return self._connection.execute(
            "SELECT entry, cause, count(*) FROM job WHERE read_words = ? AND retracted = '' "
            "AND model = ? COLLATE NOCASE GROUP BY 1, 2 ORDER BY 1, 2",
            (read_words, model.strip()),
        ).fetchall()

    def shown_on(self, entry: str) -> Iterator[tuple[str, list[list[str]], int]]:
        """The causes of an entry that were confirmed, with the tests done and what they showed, on how many jobs."""
        rows = self._connection.execute(
            "SELECT substr(cause, length(entry) + 2), outcomes, count(*) FROM job "
            "WHERE entry = ? AND retracted = '' AND outcomes <> '[]' GROUP BY 1, 2",
            (entry,),
        )
        return ((cause, json.loads(outcomes), jobs) for cause, outcomes, jobs in rows)

    def last(self, until: int | None = None) -> tuple[int, str]:
        """The number of the last record that closed a job, of those until a number, and the job; 0 without any."""
        rows = self._connection.execute(_LAST, {"until": until})
        return rows.fetchone() or (0, "")

    def tallied(self) -> Counter[tuple[str, str]]:
        """How many jobs there are of each cause (`entry/cause`) on each model."""
        rows = self._connection.execute("SELECT cause, model, jobs FROM tally")
        return Counter({(cause, model): jobs for cause, model, jobs in rows if jobs})

    def closed(
        self,
        begin: str,
        end: str,
        *,
        after: int = 0,
        causes: Collection[str] | None = None,
        models: Collection[str] | None = None,
    ) -> Works:
        """The jobs closed from `begin` on and before `end` (UTC); a tag of another shop is that of another machine.

        Of all, or of those that a record after that number closed, under one of those causes, on one of those models.
        """
        among = {"cause": causes, "model": models}
        asked = {name: given for name, given in among.items() if given is not None}
        named = "".join(
            f"AND {name} IN (SELECT value FROM json_each(?)) " for name in asked
        )
        rows = self._connection.execute(
            f"SELECT model, CASE WHEN {_IS_OURS} THEN machine ELSE machine || '|' || shop END, "
            "cause, minutes, part, donor, closed_at FROM job WHERE retracted = '' "
            f"AND closed_at >= ? AND closed_at < ? AND +seq > ? {named}ORDER BY closed_at, job",
            (begin, end, after, *(json.dumps(sorted(one)) for one in asked.values())),
        )
        works = Works()
        # equal names are one object: what counts them later is three times as quick
        once = dict[str, str]().setdefault
        for model, machine, cause, minutes, part, donor, at in rows:
            works.models.append(once(model, model))
            works.machines.append(machine)
            works.causes.append(once(cause, cause))
            works.minutes.append(minutes)
            works.parts.append(once(part, part))
            works.donors.append(once(donor, donor))
            works.closed_at.append(at)
        return works

    def words_under(self, causes: Collection[str], begin: str, end: str) -> list[str]:
        """The words of the jobs closed under one of those causes, in the order in which `closed` gives the jobs."""
        rows = self._connection.execute(
            "SELECT words FROM job WHERE retracted = '' AND cause IN (SELECT value FROM json_each(?)) "
            "AND closed_at >= ? AND closed_at < ? ORDER BY closed_at, job",
            (json.dumps(sorted(causes)), begin, end),
        )
        return [words for (words,) in rows]

    def donated(self) -> Iterator[JobRow]:
        """The jobs that a part of a donor of ours ended, in the order of the history."""
        rows = self._connection.execute(
            f"SELECT {', '.join(JobRow._fields)} FROM job INDEXED BY job_with_donor "
            f"WHERE donor <> '' AND part <> '' AND retracted = '' AND {_IS_OURS} ORDER BY seq"
        )
        return map(JobRow._make, rows)

    def fitted(self, parts: Collection[str], since: str) -> Iterator[JobRow]:
        """Our jobs since a moment (UTC) that one of these parts ended, of which no donor is named, in time's order."""
        rows = self._connection.execute(
            f"SELECT {', '.join(JobRow._fields)} FROM job WHERE donor = '' AND retracted = '' AND closed_at >= ? "
            f"AND part IN (SELECT value FROM json_each(?)) AND {_IS_OURS} ORDER BY closed_at",
            (since, json.dumps(sorted(parts))),
        )
        return map(JobRow._make, rows)

    def days(self) -> list[tuple[str, str, int]]:
        """The days (UTC) on which jobs were closed: the first and the last time of each, and how many, in order."""
        rows = self._connection.execute(
            "SELECT min(closed_at), max(closed_at), count(*) FROM job WHERE retracted = '' "
            "GROUP BY substr(closed_at, 1, 10) ORDER BY 1"
        )
        return [(first, last, number) for first, last, number in rows]
