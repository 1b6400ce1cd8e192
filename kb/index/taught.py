"""What the history has taught of how much its models have in common (taught), noted in the index."""

from __future__ import annotations

import hashlib
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import groupby
from operator import itemgetter

from kb.base import pooling
from kb.base.pooling import Group, Pooling
from kb.history.same import folded
from kb.index.remembered import Kept, Remembered

#: Under what it is noted how much models have in common, and from which jobs that was learned.
POOLING, LEARNED_FROM = "pooling", "pooling from"
#: It is learned anew when the history has grown by a quarter, from so many records on.
FIRST_STEP = 64

Odds = Mapping[str, Mapping[str, float]]


def step_before(record: int) -> int:
    """The last record at which it is learned, if the history has come to that record; 0 before the first.

    >>> [step_before(record) for record in (63, 64, 79, 80, 1000)]
    [0, 64, 64, 80, 921]
    """
    step = further = FIRST_STEP
    while further <= record:
        step, further = further, further + max(further // 4, 1)
    return step if step <= record else 0


class TaughtTable:
    """How much models have in common, by the jobs of an open index; `about` gives what is noted in it under a key.

    It hangs on what the history holds and not on the way it came in: the same jobs give the same.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        about: Callable[[str], str],
        remembered: Remembered,
    ) -> None:
        self._connection = connection
        self._about = about
        self._remembered = remembered

    @property
    def pooling(self) -> Pooling | None:
        """How much models have in common, None while the history has taught nothing; remembered."""
        return self._remembered.get(
            Kept.POOLING, lambda: pooling.from_json(self._about(POOLING))
        )

    def by_model(self, entry: str) -> dict[str, dict[str, int]]:
        """How many jobs of an entry there are of each cause, by model (folded)."""
        rows = self._connection.execute(
            "SELECT model, cause, jobs FROM tally WHERE entry = ?", (entry,)
        )
        return _by_model(
            (model, cause.removeprefix(f"{entry}/"), jobs)
            for model, cause, jobs in rows
        )

    def source(self, same: str) -> str:
        """From which jobs it is to be learned by now, where `same` tells which names of models mean the same."""
        last = step_before(int(self._number("SELECT max(seq) FROM job")))
        put_away = self._number(
            "SELECT count(*) FROM job WHERE retracted <> '' AND seq <= ?", last
        )
        return f"{last} {put_away} {hashlib.sha256(same.encode()).hexdigest()}"

    def learned(self, source: str, odds: Callable[[], Odds]) -> str:
        """What those jobs teach, as `POOLING` is noted; empty for nothing. `odds` gives those of causes, by entry."""
        last = int(source.partition(" ")[0])
        found = pooling.learned(self._groups(last, odds())) if last else None
        return found.to_json() if found else ""

    def _groups(self, last: int, odds: Odds) -> Iterator[Group]:
        """What each model had of each entry that can be served, in the jobs up to that record, in order of names."""
        rows = self._connection.execute(
            "SELECT entry, model, substr(cause, length(entry) + 2), count(*) FROM job "
            "WHERE seq <= ? AND retracted = '' GROUP BY 1, 2, 3 ORDER BY 1, 2, 3",
            (last,),
        )
        for entry, of_entry in groupby(rows, itemgetter(0)):
            yield from groups_of(
                _by_model(row[1:] for row in of_entry), odds.get(entry, {})
            )

    def _number(self, sql: str, *given: int) -> int:
        return self._connection.execute(sql, given).fetchone()[0] or 0


def told_elsewhere(
    models: Mapping[str, Mapping[str, int]], model: str
) -> dict[str, float]:
    """What the jobs on all models but one (folded) tell of each cause that they had; of all models without one."""
    told = Counter[str]()
    for other, by_cause in models.items():
        if other != model:
            told.update({cause: pooling.told(jobs) for cause, jobs in by_cause.items()})
    return dict(told)


def groups_of(
    models: Mapping[str, Mapping[str, int]], odds: Mapping[str, float]
) -> Iterator[Group]:
    """A group for each model that had an entry's causes of those odds."""
    whole = sum(odds.values())
    own = {cause: weight / whole for cause, weight in odds.items()}
    told = told_elsewhere(models, "")
    for model in sorted(models):
        here = {
            cause: float(jobs) for cause, jobs in models[model].items() if cause in own
        }
        of_others = {
            cause: max(told[cause] - pooling.told(int(jobs)), 0.0)
            for cause, jobs in here.items()
        }
        yield Group(here=here, elsewhere=told | of_others, own=own)


def _by_model(rows: Iterable[tuple[str, str, int]]) -> dict[str, dict[str, int]]:
    """Numbers of jobs by model (folded) and cause, out of model, cause and number."""
    found: dict[str, dict[str, int]] = {}
    for model, cause, jobs in rows:
        by_cause = found.setdefault(folded(model), {})
        by_cause[cause] = by_cause.get(cause, 0) + jobs
    return found
