"""The spoken words in the index: each complaint once, under which entries it was confirmed, and the terms it holds.

What complaints add to an entry is kept in whole units of a share, so that adding and taking away again leaves exactly
what was there before, in whatever order things came. A complaint costs what its own words hold, however many there are.
"""

from __future__ import annotations

import sqlite3
from array import array
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from kb.index.postings import Posting
from kb.language import terms
from kb.language.terms import Content

#: A share of 1 in whole units: halves up to sixteenths of it are whole too.
UNITS = 720_720
#: The tenths that one confirmed complaint counts: half a wording of the entry's own, since some are confirmed wrongly
#: (as much as a wording cost twice as many answers after a careless history: tests/quality/test_search.py).
SPOKEN = terms.WORDING // 2
#: All complaints of an entry together count at most this share of its own text, so that they cannot swamp it.
MOST_SPOKEN = 0.5

SCHEMA = """
CREATE TABLE said (
    text TEXT NOT NULL, entry TEXT NOT NULL, jobs INTEGER NOT NULL, units INTEGER NOT NULL, PRIMARY KEY (text, entry)
) STRICT, WITHOUT ROWID;
CREATE INDEX said_by_entry ON said (entry, text, units);
CREATE TABLE spoken_term (
    term TEXT NOT NULL, entry TEXT NOT NULL, units INTEGER NOT NULL, PRIMARY KEY (term, entry)
) STRICT, WITHOUT ROWID;
CREATE TABLE spoken_mass (
    entry TEXT NOT NULL, view TEXT NOT NULL, units INTEGER NOT NULL, PRIMARY KEY (entry, view)
) STRICT, WITHOUT ROWID;
"""


@dataclass(frozen=True, slots=True)
class Shift:
    """How the share of a complaint that belongs to an entry has changed, in units; 0 where it is none of its words."""

    entry: str
    before: int
    after: int

    @property
    def units(self) -> int:
        """By how many units."""
        return self.after - self.before

    @property
    def times(self) -> int:
        """1 where the complaint came to the entry, -1 where it left it."""
        return (self.after > 0) - (self.before > 0)


@dataclass(slots=True)
class Retold:
    """Changed counts of terms and words, gathered over many complaints and written once."""

    terms: Counter[tuple[str, str]] = field(default_factory=Counter)
    masses: Counter[tuple[str, str]] = field(default_factory=Counter)
    words: Counter[str] = field(default_factory=Counter)

    def add(self, shift: Shift, content: Content, is_served: bool) -> None:
        """Add what a changed share of a complaint changes; words count where their entry can be served."""
        for term, times in content.terms.items():
            self.terms[term, shift.entry] += times * shift.units
            self.masses[shift.entry, term[0]] += times * shift.units
        if is_served and shift.times:
            self.words.update(
                {word: shift.times * times for word, times in content.words.items()}
            )


class SpokenTable:
    """The complaints of an open index, and what they add to the entries under which they were confirmed."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def forget(self) -> None:
        """Forget every complaint."""
        for table in ("said", "spoken_term", "spoken_mass"):
            self._connection.execute(f"DELETE FROM {table}")
        self._connection.execute("UPDATE word SET said = 0 WHERE said <> 0")
        self._connection.execute("DELETE FROM word WHERE written <= 0")

    def count(self, text: str, entry: str, jobs: int) -> int:
        """Add to the jobs of an entry under a complaint; gives the units of its share as they are until it is settled.

        A job that was told nothing counts whole.
        """
        if not text:
            return UNITS
        found = self._connection.execute(
            "INSERT INTO said VALUES (?, ?, ?, 0) ON CONFLICT (text, entry) DO UPDATE SET jobs = jobs + excluded.jobs "
            "RETURNING units",
            (text, entry, jobs),
        ).fetchone()
        return int(found[0])

    def count_since(self, seq: int) -> None:
        """Count the complaints of the jobs that were taken in from that number on."""
        self._connection.execute(
            # by their numbers alone
            "INSERT INTO said SELECT read_words, entry, count(*), 0 FROM job NOT INDEXED "
            "WHERE seq >= ? AND retracted = '' AND read_words <> '' GROUP BY 1, 2 "
            "ON CONFLICT (text, entry) DO UPDATE SET jobs = jobs + excluded.jobs",
            (seq,),
        )

    def settle(self, text: str) -> list[Shift]:
        """Share a complaint anew between the entries under which it was confirmed; gives the shares that changed."""
        rows = self._connection.execute(
            "SELECT entry, jobs, units FROM said WHERE text = ? ORDER BY entry", (text,)
        ).fetchall()
        everywhere = sum(jobs for _, jobs, _ in rows)
        shifts = [
            Shift(entry, units, max(jobs * UNITS // everywhere, 1) if jobs else 0)
            for entry, jobs, units in rows
        ]
        changed = [shift for shift in shifts if shift.before != shift.after]
        self._connection.executemany(
            "UPDATE said SET units = ? WHERE text = ? AND entry = ?",
            [(shift.after, text, shift.entry) for shift in changed],
        )
        self._connection.execute(
            "DELETE FROM said WHERE text = ? AND jobs = 0", (text,)
        )
        return changed

    def texts(self, entry: str) -> list[str]:
        """The complaints under which an entry was confirmed, each once."""
        rows = self._connection.execute(
            "SELECT text FROM said WHERE entry = ? AND units > 0 ORDER BY text",
            (entry,),
        )
        return [text for (text,) in rows]

    def most_like(self, entry: str, stems: Sequence[str], most: int) -> list[str]:
        """So many of the complaints under which an entry was confirmed, those first that hold most of these stems.

        They are counted where they stand: an entry of a long history has thousands of complaints.
        """
        held = " + ".join("(instr(text, ?) > 0)" for _ in stems) or "''"
        rows = self._connection.execute(
            f"SELECT text FROM said WHERE entry = ? AND units > 0 ORDER BY {held} DESC, text LIMIT ?",
            (entry, *stems, most),
        )
        return [text for (text,) in rows]

    def write(self, retold: Retold) -> None:
        """Write what was gathered, but for the words."""
        for table, columns, counts in (
            ("spoken_term", ("term", "entry"), retold.terms),
            ("spoken_mass", ("entry", "view"), retold.masses),
        ):
            first, second = columns
            changed = sorted((*key, units) for key, units in counts.items() if units)
            self._connection.executemany(
                f"INSERT INTO {table} VALUES (?, ?, ?) "
                f"ON CONFLICT ({first}, {second}) DO UPDATE SET units = units + excluded.units",
                changed,
            )
            self._connection.executemany(
                f"DELETE FROM {table} WHERE {first} = ? AND {second} = ? AND units = 0",
                [key for *key, units in changed if units < 0],
            )

    def masses(self) -> dict[str, dict[str, int]]:
        """By view and entry the summed units of its complaints."""
        by_view: dict[str, dict[str, int]] = {}
        for entry, view, units in self._connection.execute(
            "SELECT entry, view, units FROM spoken_mass"
        ):
            by_view.setdefault(view, {})[entry] = units
        return by_view

    def holding(self, wanted: Iterable[str]) -> dict[str, list[tuple[str, int]]]:
        """For each of these terms that was said the entries under which it was, with its units."""
        found: dict[str, list[tuple[str, int]]] = {}
        for term in wanted:
            rows = self._connection.execute(
                "SELECT entry, units FROM spoken_term WHERE term = ?", (term,)
            ).fetchall()
            if rows:
                found[term] = rows
        return found


def scales(own: Mapping[int, int], said: Mapping[int, int]) -> dict[int, float]:
    """What a unit counts in tenths, by entry: the whole tenths of a complaint, or less where there are very many.

    `own` are the summed tenths of each entry's own texts, `said` the summed units of its complaints.

    >>> scales({1: 400, 2: 400}, {1: 10 * UNITS, 2: 80 * UNITS}) == {1: SPOKEN / UNITS, 2: 200 / (80 * UNITS)}
    True
    """
    return {
        entry: min(SPOKEN / UNITS, MOST_SPOKEN * own.get(entry, 0) / units)
        for entry, units in said.items()
    }


def with_said(own: Posting | None, said: Mapping[int, int]) -> Posting:
    """A posting of the entries' own texts with the tenths that complaints add to it.

    >>> both = with_said(Posting(20, array("I", [3, 7]), array("I", [10, 10])), {1: 5, 7: 2})
    >>> both.total, list(both.entries), list(both.counts)
    (27, [1, 3, 7], [5, 10, 12])
    """
    counts = dict(zip(own.entries, own.counts, strict=True)) if own else {}
    for entry, tenths in said.items():
        counts[entry] = counts.get(entry, 0) + tenths
    entries = sorted(counts)
    return Posting(
        sum(counts.values()),
        array("I", entries),
        array("I", map(counts.__getitem__, entries)),
    )
