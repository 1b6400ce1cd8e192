"""What fails on a model: causes by count, rate per machine seen with its interval, minutes, parts, trend."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from kb.rates import wilson


@dataclass(frozen=True, slots=True)
class Failure:
    """One cause as the history has it. The rate is machines with it per machine seen, with a 95 % Wilson interval."""

    cause: str
    name: str
    jobs: int
    machines: int
    rate: float
    low: float
    high: float
    median_minutes: float | None
    parts: tuple[tuple[str, int], ...]
    first_seen: str
    last_seen: str
    quarters: tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True)
class Review:
    """The failures of one model or, with an empty model, of all; `machines` is how many machines were seen."""

    model: str
    since: str
    jobs: int
    machines: int
    median_minutes: float | None
    total_minutes: float
    parts: tuple[tuple[str, int], ...]
    failures: tuple[Failure, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    cause: str
    machine: str
    minutes: float | None
    part: str
    closed_at: str


def review(connection: sqlite3.Connection, names: dict[str, str], model: str = "", since: str = "") -> Review:
    """The review of the jobs closed at or after `since` (ISO date), most frequent cause first.

    A machine is a unit tag of a model; a job without a tag counts as a machine of its own.
    """
    rows = _rows(connection, model, since)
    machines = len({row.machine for row in rows})
    by_cause: dict[str, list[_Row]] = {}
    for row in rows:
        by_cause.setdefault(row.cause, []).append(row)
    failures = [_failure(cause, names.get(cause, cause), group, machines) for cause, group in by_cause.items()]
    failures.sort(key=lambda failure: (-failure.jobs, failure.cause))
    minutes = [row.minutes for row in rows if row.minutes is not None]
    return Review(
        model, since, len(rows), machines, median(minutes) if minutes else None, sum(minutes),
        _parts(rows), tuple(failures),
    )  # fmt: skip


def quarter(moment: str) -> str:
    """The quarter of an ISO time.

    >>> quarter("2026-11-24T10:00:00Z")
    '2026-Q4'
    """
    return f"{moment[:4]}-Q{(int(moment[5:7]) + 2) // 3}"


def _rows(connection: sqlite3.Connection, model: str, since: str) -> list[_Row]:
    found = connection.execute(
        "SELECT cause, CASE unit WHEN '' THEN job ELSE lower(model) || '|' || lower(unit) END, minutes, part, closed_at "
        "FROM job WHERE retracted = '' AND (? = '' OR model = ? COLLATE NOCASE) AND closed_at >= ? ORDER BY closed_at, job",
        (model.strip(), model.strip(), since),
    )
    return [_Row(*row) for row in found]


def _failure(cause: str, name: str, rows: Sequence[_Row], machines_seen: int) -> Failure:
    machines = len({row.machine for row in rows})
    spread = wilson(machines, machines_seen)
    minutes = [row.minutes for row in rows if row.minutes is not None]
    quarters = Counter(quarter(row.closed_at) for row in rows)
    return Failure(
        cause, name, len(rows), machines, machines / machines_seen, spread.low, spread.high,
        median(minutes) if minutes else None, _parts(rows), rows[0].closed_at, rows[-1].closed_at,
        tuple(sorted(quarters.items())),
    )  # fmt: skip


def _parts(rows: Sequence[_Row]) -> tuple[tuple[str, int], ...]:
    counted = Counter(row.part for row in rows if row.part)
    return tuple(sorted(counted.items(), key=lambda item: (-item[1], item[0])))
