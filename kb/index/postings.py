"""Postings: where each term stands, kept in SQLite as counts by entry, packed, changed entry by entry."""

from __future__ import annotations

import sqlite3
from array import array
from bisect import bisect_left
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from operator import lt

#: Changed counts held in memory at once, some 20 MB.
MOST_GATHERED = 1_000_000
#: A posting of more than so many times the entries that are asked for is not gone through for them.
GONE_THROUGH = 10
#: Terms asked for in one statement.
_AT_ONCE = 500

SCHEMA = """
CREATE TABLE term (term TEXT PRIMARY KEY, total INTEGER NOT NULL, packed BLOB NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE word (
    word TEXT PRIMARY KEY, stem TEXT NOT NULL, written INTEGER NOT NULL, said INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
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
        return (
            self.counts[at]
            if at < len(self.entries) and self.entries[at] == entry
            else 0
        )

    def counts_of(self, entries: Collection[int]) -> dict[int, int]:
        """The counts of those entries in which the term stands; looked up one by one in a posting of many others.

        >>> Posting(30, array("I", [3, 5, 7]), array("I", [10, 15, 5])).counts_of({4, 5, 7})
        {5: 15, 7: 5}
        """
        if len(self.entries) > GONE_THROUGH * len(entries):
            return {entry: count for entry in entries if (count := self.count(entry))}
        return {
            entry: count
            for entry, count in zip(self.entries, self.counts, strict=True)
            if entry in entries
        }


@dataclass(frozen=True, slots=True, eq=False)
class Masses:
    """For every entry its summed counts in one view.

    Two are equal only if they are one and the same, so that what is worked out from them can be remembered by them.
    """

    of: Mapping[int, int]


def read(connection: sqlite3.Connection, terms: Iterable[str]) -> dict[str, Posting]:
    """The postings of those terms that the library holds."""
    wanted = sorted(set(terms))
    found: dict[str, Posting] = {}
    for start in range(0, len(wanted), _AT_ONCE):
        part = wanted[start : start + _AT_ONCE]
        marks = ",".join("?" * len(part))
        for term, total, packed in connection.execute(
            f"SELECT term, total, packed FROM term WHERE term IN ({marks})", part
        ):
            found[term] = _unpacked(total, packed)
    return found


class Changes:
    """Changed counts of many entries, gathered while the entries are read and written term by term.

    After MOST_GATHERED counts they are written and gathered anew, so that no library is too large for memory.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        self._pairs: dict[str, array[int]] = {}
        self._gathered = 0

    def move(
        self, entry: int, before: Mapping[str, int], after: Mapping[str, int]
    ) -> None:
        """Move the counts of one entry from `before` to `after`."""
        for term, count in after.items():
            if before.get(term) != count:
                self._gather(term, entry, count)
        for term in before.keys() - after.keys():
            self._gather(term, entry, 0)
        if self._gathered > MOST_GATHERED:
            self.write()

    def _gather(self, term: str, entry: int, count: int) -> None:
        held = self._pairs.get(term)
        if held is None:
            held = self._pairs[term] = array("I")
        held.append(entry)
        held.append(count)
        self._gathered += 1

    def write(self) -> None:
        """Write what was gathered."""
        ordered = sorted(self._pairs)
        for start in range(0, len(ordered), _AT_ONCE):
            self._write(ordered[start : start + _AT_ONCE])
        self._pairs, self._gathered = {}, 0

    def _write(self, terms: Sequence[str]) -> None:
        held = read(self._connection, terms)
        rows, gone = [], []
        for term in terms:
            posting = held.get(term) or Posting(0, array("I"), array("I"))
            _set(posting, self._pairs[term])
            if posting.entries:
                rows.append((term, *_packed(posting.entries, posting.counts)))
            else:
                gone.append((term,))
        self._connection.executemany(
            "INSERT OR REPLACE INTO term VALUES (?, ?, ?)", rows
        )
        self._connection.executemany("DELETE FROM term WHERE term = ?", gone)


def _set(posting: Posting, pairs: array[int]) -> None:
    """Set the counts of entries, given one after the other; the total stays as it was."""
    last = posting.entries[-1] if posting.entries else -1
    entries, counts = pairs[::2], pairs[1::2]
    if all(map(lt, (last, *entries), entries)) and all(counts):
        posting.entries.extend(entries)
        posting.counts.extend(counts)
        return
    for entry, count in zip(entries, counts, strict=True):
        _put(posting, entry, count)


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


def change_words(
    connection: sqlite3.Connection,
    stem: Callable[[str], str],
    written: Mapping[str, int],
    said: Mapping[str, int],
) -> None:
    """Add to how often words are written in entries and said in jobs, and forget those that stand nowhere any more."""
    differences = (
        (word, written.get(word, 0), said.get(word, 0))
        for word in sorted(written.keys() | said.keys())
    )
    connection.executemany(
        "INSERT INTO word VALUES (?, ?, ?, ?) ON CONFLICT (word) DO UPDATE SET "
        "written = written + excluded.written, said = said + excluded.said",
        (
            (word, stem(word), wrote, told)
            for word, wrote, told in differences
            if wrote or told
        ),
    )
    connection.execute("DELETE FROM word WHERE written <= 0 AND said <= 0")


def _packed(entries: array[int], counts: array[int]) -> tuple[int, bytes]:
    return sum(counts), (entries + counts).tobytes()


def _unpacked(total: int, packed: bytes) -> Posting:
    both = array("I")
    both.frombytes(packed)
    half = len(both) // 2
    return Posting(total, both[:half], both[half:])
