"""How often each entry, cause and outcome was confirmed, on one model and on all others.

In beliefs an old job may weigh less, and a job whose words were said of many entries says less of how often its
entry is behind words that tell something. What people are shown stays whole jobs as they were counted.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from kb.diagnosis.causes import Counts
from kb.library.outcomes import expected_outcomes
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


@dataclass(frozen=True, slots=True)
class Confirmed:
    """All confirmed jobs by entry, and for every entry that has any by cause."""

    entries: Counts
    causes: Mapping[str, Counts]


def confirmed(connection: sqlite3.Connection, model: str, ageing: Ageing = ALIKE) -> Confirmed:
    """The confirmed jobs, on the model and on all others."""
    everything = list(_jobs(connection, model, ageing))
    by_entry: dict[str, list[_Jobs]] = {}
    for jobs in everything:
        by_entry.setdefault(jobs.entry, []).append(jobs)
    return Confirmed(
        _counted((jobs.entry, jobs, jobs.telling * ageing.weight(jobs.day)) for jobs in everything),
        {
            entry: _counted((jobs.cause, jobs, jobs.number * ageing.weight(jobs.day)) for jobs in found)
            for entry, found in by_entry.items()
        },
    )


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


class _Jobs(NamedTuple):
    """So many jobs alike: of one cause, on the model or not, closed on one day (empty where no job ages).

    `telling` sums over them the share that the entry has among all jobs under the same words: 1 for a job under
    words of its own or without words, next to nothing for one of hundreds that were brought in as "broken".
    """

    entry: str
    cause: str
    here: bool
    day: str
    number: int
    telling: float


def _jobs(connection: sqlite3.Connection, model: str, ageing: Ageing) -> Iterator[_Jobs]:
    day = "substr(closed_at, 1, 10)" if ageing.half_life_days > 0 else "''"
    rows = connection.execute(
        f"SELECT entry, name, here, day, count(*), sum(CASE read_words WHEN '' THEN 1.0 ELSE share END) FROM "
        f"(SELECT entry, substr(cause, length(entry) + 2) AS name, read_words, {day} AS day, "
        "model = ?1 COLLATE NOCASE AND ?1 <> '' AS here, CAST(count(*) OVER (PARTITION BY read_words, entry) AS REAL) "
        "/ count(*) OVER (PARTITION BY read_words) AS share FROM job WHERE retracted = '') GROUP BY 1, 2, 3, 4",
        (model.strip(),),
    )
    return map(_Jobs._make, rows)


def _counted(named: Iterable[tuple[str, _Jobs, float]]) -> Counts:
    """The jobs by name as they weigh, with the same as whole jobs beside them."""
    weighed: tuple[dict[str, float], dict[str, float]] = {}, {}
    whole: tuple[dict[str, float], dict[str, float]] = {}, {}
    for name, jobs, weight in named:
        side = 0 if jobs.here else 1
        whole[side][name] = whole[side].get(name, 0.0) + jobs.number
        weighed[side][name] = weighed[side].get(name, 0.0) + weight
    return Counts(*weighed, Counts(*whole))
