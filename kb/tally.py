"""How often each entry, cause and outcome was confirmed, on one model and on all others."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from dataclasses import dataclass

from kb.diagnosis import Counts
from kb.likelihood import expected_outcomes
from kb.model import Entry


@dataclass(frozen=True, slots=True)
class Ageing:
    """How an old job counts: half after `half_life_days`, seen from `today` (a Julian day); 0 days: all alike."""

    half_life_days: float = 0.0
    today: float = 0.0

    @property
    def weight(self) -> str:
        """The SQL expression of a job's weight."""
        if self.half_life_days <= 0:
            return "1.0"
        return f"pow(0.5, max({self.today!r} - julianday(closed_at), 0.0) / {self.half_life_days!r})"


def of_entries(connection: sqlite3.Connection, model: str, ageing: Ageing = Ageing()) -> Counts:
    """Confirmed jobs by entry."""
    return _counts(connection, "entry", "1", (), model, ageing)


def of_causes(connection: sqlite3.Connection, entry: str, model: str, ageing: Ageing = Ageing()) -> Counts:
    """Confirmed jobs of an entry by cause."""
    return _counts(connection, "substr(cause, length(entry) + 2)", "entry = ?", (entry,), model, ageing)


def models(connection: sqlite3.Connection) -> list[str]:
    """The models in the history, most frequent first."""
    rows = connection.execute(
        "SELECT model FROM job WHERE retracted = '' GROUP BY model COLLATE NOCASE ORDER BY count(*) DESC, model"
    )
    return [str(model) for (model,) in rows]


@dataclass(frozen=True, slots=True)
class Record:
    """How often a test showed what the confirmed cause makes it show, and how often not."""

    right: int
    wrong: int


def of_tests(connection: sqlite3.Connection, entry: Entry) -> dict[str, Record]:
    """By test how it did on the jobs of its entry whose cause was confirmed; tests never used are left out."""
    rows = connection.execute(
        "SELECT substr(cause, length(entry) + 2), outcomes FROM job "
        "WHERE entry = ? AND retracted = '' AND outcomes <> '[]'",
        (entry.slug,),
    )
    right: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    for cause, outcomes in rows:
        for shown_test, shown in json.loads(outcomes):
            slug, _, name = shown_test.partition("/")
            test = entry.test(name) if slug == entry.slug and entry.cause(cause) else None
            texts = [outcome.text for outcome in test.outcomes] if test else []
            if test is None or shown not in texts:
                continue
            expected = expected_outcomes(test, cause)
            if len(expected) < len(texts):
                (right if texts.index(shown) in expected else wrong)[name] += 1
    return {name: Record(right[name], wrong[name]) for name in right.keys() | wrong.keys()}


def _counts(
    connection: sqlite3.Connection, name: str, where: str, values: tuple[str, ...], model: str, ageing: Ageing
) -> Counts:
    rows = connection.execute(
        f"SELECT {name}, model = ? COLLATE NOCASE, sum({ageing.weight}) FROM job "
        f"WHERE retracted = '' AND {where} GROUP BY 1, 2",
        (model.strip(), *values),
    )
    here: dict[str, float] = {}
    elsewhere: dict[str, float] = {}
    for key, is_here, weight in rows:
        (here if is_here and model.strip() else elsewhere)[key] = weight
    return Counts(here, elsewhere)
