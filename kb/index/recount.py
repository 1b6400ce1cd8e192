"""The recount of what the index sums up: its tallies beside the jobs that they are the sums of."""

from __future__ import annotations

import sqlite3
from collections import Counter

from kb.index.spoken import UNITS
from kb.language import terms
from kb.language.words import Lexicon

#: What each table of sums must hold, worked out from the tables that it sums up.
_SUMS = {
    "tally": "SELECT job.entry, cause, model, count(*), sum(coalesce(said.units, {units})) FROM job LEFT JOIN said "
    "ON said.text = read_words AND said.entry = job.entry WHERE retracted = '' GROUP BY 1, 2, 3",
    "said": "SELECT text, entry, jobs, max(jobs * {units} / sum(jobs) OVER (PARTITION BY text), 1) FROM "
    "(SELECT read_words AS text, entry, count(*) AS jobs FROM job "
    "WHERE retracted = '' AND read_words <> '' GROUP BY 1, 2)",
    "spoken_mass": "SELECT entry, substr(term, 1, 1), sum(units) FROM spoken_term GROUP BY 1, 2",
}


def miscounted(connection: sqlite3.Connection, lexicon: Lexicon) -> tuple[str, ...]:
    """The tables of sums that do not hold, row by row, what the jobs of an open index add up to; none if all do.

    Every complaint is read anew for it: about a tenth of what making the index takes.
    """
    wrong = [
        table
        for table, recounted in _SUMS.items()
        if _differs(connection, table, recounted.format(units=UNITS))
    ]
    units, words = _told_anew(connection, lexicon)
    held = {
        (term, entry): number
        for term, entry, number in connection.execute("SELECT * FROM spoken_term")
    }
    said = dict(connection.execute("SELECT word, said FROM word WHERE said <> 0"))
    return (
        *wrong,
        *(["spoken_term"] if held != units else []),
        *(["word"] if said != words else []),
    )


def _differs(connection: sqlite3.Connection, table: str, recounted: str) -> bool:
    """Whether a table holds a row that the recount does not have, or lacks one."""
    ways = (
        f"SELECT * FROM {table} EXCEPT {recounted}",
        f"{recounted} EXCEPT SELECT * FROM {table}",
    )
    return any(
        connection.execute(f"SELECT 1 FROM ({way}) LIMIT 1").fetchone() for way in ways
    )


def _told_anew(
    connection: sqlite3.Connection, lexicon: Lexicon
) -> tuple[dict[tuple[str, str], int], dict[str, int]]:
    """The summed units by term and entry, and how often each word was said of entries that can be served."""
    units, words = Counter[tuple[str, str]](), Counter[str]()
    served = {
        slug
        for (slug,) in connection.execute("SELECT slug FROM sheet WHERE entry <> x''")
    }
    for text, entry, share in connection.execute("SELECT text, entry, units FROM said"):
        held = terms.count([(text, 1)], lexicon)
        for term, times in held.terms.items():
            units[term, entry] += int(times) * share
        if entry in served:
            words.update(held.words)
    return dict(units), dict(words)
