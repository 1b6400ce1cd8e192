"""Where each term stands, kept in SQLite: counts by entry, packed, changed entry by entry."""

from __future__ import annotations

import sqlite3
from array import array
from bisect import bisect_left
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
    """One term: its count in the whole library (in tenths), and rising entry numbers with their counts."""

    total: int
    entries: array[int]
    counts: array[int]

    def count(self, entry: int) -> int:
        """The count of one entry, 0 where the term does not stand in it."""
        at = bisect_left(self.entries, entry)
        return self.counts[at] if at < len(self.entries) and self.entries[at] == entry else 0


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
        posting = held.get(term) or Posting(0, array("I"), array("I"))
        _put(posting, entry, after.get(term, 0))
        if posting.entries:
            rows.append((term, *_packed(posting.entries, posting.counts)))
        else:
            gone.append((term,))
    connection.executemany("INSERT OR REPLACE INTO term VALUES (?, ?, ?)", rows)
    connection.executemany("DELETE FROM term WHERE term = ?", gone)


def _put(posting: Posting, entry: int, count: int) -> None:
    """Set the count of one entry; 0 takes it out."""
    at = bisect_left(posting.entries, entry)
    stands = at < len(posting.entries) and posting.entries[at] == entry
    if stands and count:
        posting.counts[at] = count
    elif stands:
        del posting.entries[at], posting.counts[at]
    elif count:
        posting.entries.insert(at, entry)
        posting.counts.insert(at, count)


class Gathering:
    """The postings of a whole library while it is read, to be written once; entries come by rising number."""

    def __init__(self) -> None:
        self._pairs: dict[str, array[int]] = {}

    def add(self, entry: int, terms: Mapping[str, int]) -> None:
        """Add the counts of one entry."""
        for term, count in terms.items():
            held = self._pairs.get(term)
            if held is None:
                held = self._pairs[term] = array("I")
            held.extend((entry, count))

    def write(self, connection: sqlite3.Connection) -> None:
        """Write all of it into an empty table."""
        rows = ((term, *_packed(held[::2], held[1::2])) for term, held in sorted(self._pairs.items()))
        connection.executemany("INSERT INTO term VALUES (?, ?, ?)", rows)


def change_words(connection: sqlite3.Connection, stems: Mapping[str, str], difference: Mapping[str, int]) -> None:
    """Add to the counts of the words as written, and forget those that stand nowhere any more."""
    connection.executemany(
        "INSERT INTO word VALUES (?, ?, ?) ON CONFLICT (word) DO UPDATE SET count = count + excluded.count",
        ((word, stems[word], count) for word, count in difference.items() if count),
    )
    connection.execute("DELETE FROM word WHERE count <= 0")


def _packed(entries: array[int], counts: array[int]) -> tuple[int, bytes]:
    return sum(counts), (entries + counts).tobytes()


def _unpacked(total: int, packed: bytes) -> Posting:
    both = array("I")
    both.frombytes(packed)
    half = len(both) // 2
    return Posting(total, both[:half], both[half:])
