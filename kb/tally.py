"""How often each entry, cause and outcome was confirmed, on one model and on all others.

An old job may weigh less in beliefs; what people are shown stays whole jobs as they were counted.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from dataclasses import dataclass
from datetime import date

from kb.diagnosis import Counts
from kb.likelihood import expected_outcomes
from kb.model import Entry


@dataclass(frozen=True, slots=True)
class Ageing:
    """How an old job counts: half after `half_life_days`, seen from the day `today` (UTC); 0 days: all alike.

    Only entries and causes age; how reliable a test is, and in which words people complain, is no matter of season.
    """

    half_life_days: float = 0.0
    today: date = date.min

    def weight(self, day: str) -> float:
        """What a job closed on that day (ISO, UTC) counts: 0.5 to the power of its age in half-lives, 1 if from later.

        >>> half = Ageing(365, date(2026, 1, 1))
        >>> half.weight("2025-01-01"), half.weight("2024-01-02"), half.weight("2026-01-05"), half.weight("")
        (0.5, 0.25, 1.0, 1.0)
        """
        if self.half_life_days <= 0 or not day:
            return 1.0
        return float(0.5 ** (max((self.today - date.fromisoformat(day)).days, 0) / self.half_life_days))


#: No job ages.
ALIKE = Ageing()


def of_entries(connection: sqlite3.Connection, model: str, ageing: Ageing = ALIKE) -> Counts:
    """Confirmed jobs by entry."""
    return _counts(connection, "entry", "1", (), model, ageing)


def of_causes(connection: sqlite3.Connection, entry: str, model: str, ageing: Ageing = ALIKE) -> Counts:
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
    """The jobs by name as they weigh, with the same as whole jobs beside them where those differ."""
    ages = ageing.half_life_days > 0
    rows = connection.execute(
        f"SELECT {name}, model = ? COLLATE NOCASE, {'substr(closed_at, 1, 10)' if ages else repr('')}, count(*) "
        f"FROM job WHERE retracted = '' AND {where} GROUP BY 1, 2, 3",
        (model.strip(), *values),
    )
    weighed: tuple[dict[str, float], dict[str, float]] = {}, {}
    whole: tuple[dict[str, float], dict[str, float]] = {}, {}
    for key, is_here, day, jobs in rows:
        side = 0 if is_here and model.strip() else 1
        whole[side][key] = whole[side].get(key, 0.0) + jobs
        weighed[side][key] = weighed[side].get(key, 0.0) + jobs * ageing.weight(day)
    return Counts(*weighed, Counts(*whole) if ages else None)
