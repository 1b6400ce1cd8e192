"""Where each term stands, kept in SQLite: counts by entry, packed, changed entry by entry."""

from __future__ import annotations

import sqlite3
from array import array
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

#: Counts are kept as whole tenths, so that adding and taking away never drifts.
UNIT = 10

SCHEMA = """
CREATE TABLE term (term TEXT PRIMARY KEY, total INTEGER NOT NULL, packed BLOB NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE word (word TEXT PRIMARY KEY, stem TEXT NOT NULL, count INTEGER NOT NULL) STRICT, WITHOUT ROWID;
CREATE INDEX word_by_stem ON word (stem);
"""


@dataclass(frozen=True, slots=True)
class Posting:
    """One term: its count in the whole library (in tenths), and entry numbers with their counts."""

    total: int
    entries: array[int]
    counts: array[int]


def read(connection: sqlite3.Connection, terms: Iterable[str]) -> dict[str, Posting]:
    """The postings of those terms that the library holds."""
    wanted = sorted(set(terms))
    found: dict[str, Posting] = {}
    for start in range(0, len(wanted), 500):
        part = wanted[start : start + 500]
        marks = ",".join("?" * len(part))
        for term, total, packed in connection.execute(
            f"SELECT term, total, packed FROM term WHERE term IN ({marks})", part
        ):
            found[term] = _unpacked(total, packed)
    return found


def change(connection: sqlite3.Connection, entry: int, before: Mapping[str, int], after: Mapping[str, int]) -> None:
    """Move one entry's counts from `before` to `after`."""
    touched = {term for term in before.keys() | after.keys() if before.get(term) != after.get(term)}
    held = read(connection, touched)
    rows, gone = [], []
    for term in touched:
        counts = dict(zip(held[term].entries, held[term].counts, strict=True)) if term in held else {}
        counts.pop(entry, None)
        if after.get(term):
            counts[entry] = after[term]
        if counts:
            rows.append((term, *_packed(counts)))
        else:
            gone.append((term,))
    connection.executemany("INSERT OR REPLACE INTO term VALUES (?, ?, ?)", rows)
    connection.executemany("DELETE FROM term WHERE term = ?", gone)


def fill(connection: sqlite3.Connection, counts: Mapping[int, Mapping[str, int]]) -> None:
    """Write the postings of a whole library into empty tables."""
    by_term: dict[str, dict[int, int]] = {}
    for entry, terms in counts.items():
        for term, count in terms.items():
            by_term.setdefault(term, {})[entry] = count
    connection.executemany(
        "INSERT INTO term VALUES (?, ?, ?)", ((term, *_packed(held)) for term, held in sorted(by_term.items()))
    )


def change_words(connection: sqlite3.Connection, stems: Mapping[str, str], difference: Mapping[str, int]) -> None:
    """Add to the counts of the words as written, and forget those that stand nowhere any more."""
    connection.executemany(
        "INSERT INTO word VALUES (?, ?, ?) ON CONFLICT (word) DO UPDATE SET count = count + excluded.count",
        ((word, stems[word], count) for word, count in difference.items() if count),
    )
    connection.execute("DELETE FROM word WHERE count <= 0")


def _packed(counts: Mapping[int, int]) -> tuple[int, bytes]:
    ordered = sorted(counts)
    return sum(counts.values()), array("I", [*ordered, *(counts[entry] for entry in ordered)]).tobytes()


def _unpacked(total: int, packed: bytes) -> Posting:
    both = array("I")
    both.frombytes(packed)
    half = len(both) // 2
    return Posting(total, both[:half], both[half:])
