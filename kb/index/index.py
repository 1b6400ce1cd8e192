"""The derived SQLite index: entries with their terms, closed jobs and the floor, in step with files and history."""

from __future__ import annotations

import hashlib
import sqlite3
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from kb.index import file, jobs, postings, recount, spoken, taught
from kb.index.elsewhere import ElsewhereTable
from kb.index.floor import FloorTable
from kb.index.jobs import JobTable
from kb.index.postings import Masses, Posting
from kb.index.remembered import Kept, Remembered
from kb.index.sheets import SheetTable
from kb.index.spoken import SpokenTable
from kb.index.taught import TaughtTable
from kb.index.wordlist import WordList
from kb.language import spelling
from kb.language.words import Lexicon
from kb.model import Entry

#: Under what it is noted by which merges of models jobs are counted, and by which machines.
JOBS_SAME, FLOOR_SAME = "same", "floor same"
#: Under what it is noted of which shops the jobs are of our machines, for jobs (a list as JSON) and for machines.
JOBS_SHOPS, FLOOR_SHOPS = jobs.SHOPS, "floor shops"
#: The postings of the first so many terms are held in memory, in a library of so many entries at most: some 10 MB.
MOST_TERMS, MOST_HELD = 2_000, 500


class Index:
    """An open index. Anything wrong with the file, and it is made anew: nothing in it is precious.

    Where no file can be made (a full or write-protected disk), it is held in memory, by this object alone.
    """

    def __init__(self, path: Path | None) -> None:
        self.path = path
        try:
            self._connection = (
                file.opened_or_anew(path) if path else file.opened(":memory:")
            )
            self._inode = path.stat().st_ino if path else 0
        except (sqlite3.DatabaseError, OSError):
            self.path = None
            self._connection = file.opened(":memory:")
        self.remembered = Remembered()
        self.sheets = SheetTable(self._connection)
        self.spoken = SpokenTable(self._connection)
        self.jobs = JobTable(self._connection, self.spoken)
        self.floor = FloorTable(self._connection)
        self.words = WordList(self._connection, self.remembered)
        self.taught = TaughtTable(self._connection, self.about, self.remembered)
        self.elsewhere = ElsewhereTable(self._connection, self.about, self.remembered)

    def close(self) -> None:
        """Let the file go."""
        self._connection.close()

    def stands(self) -> bool:
        """Whether the file that was opened is still the one at its path; one in memory always is."""
        try:
            return self.path is None or self.path.stat().st_ino == self._inode
        except OSError:
            return False

    def damage(self) -> str:
        """What SQLite's quick check finds wrong with the file, empty if nothing."""
        found = str(self._connection.execute("PRAGMA quick_check(1)").fetchone()[0])
        return "" if found == "ok" else found

    def miscounted(self, lexicon: Lexicon) -> tuple[str, ...]:
        """The sums, by table or name, that are not what the jobs add up to; to be called while reading."""
        source = self.about(taught.LEARNED_FROM)
        as_learned = not source or self.about(taught.POOLING) == self.taught.learned(
            source, self.sheets.odds
        )
        return (
            *recount.miscounted(self._connection, lexicon),
            *(() if as_learned else (taught.POOLING,)),
        )

    def discard(self) -> None:
        """Close the index and remove its file, since something in it is wrong."""
        self.close()
        if self.path is not None:
            file.remove(self.path)

    @contextmanager
    def changing(self, patience: float = 10.0, counts: bool = True) -> Iterator[None]:
        """A block in which all changes are kept, or none; one process at a time, waited for in seconds.

        With `counts` false nothing that is counted changes, so that what was remembered stays.
        Raises sqlite3.OperationalError if another is changing it for longer, or the disk does not take it.
        """
        self._connection.execute(f"PRAGMA busy_timeout = {int(patience * 1000)}")
        try:
            self._connection.execute("BEGIN IMMEDIATE")
        finally:
            self._connection.execute("PRAGMA busy_timeout = 10000")
        self.remembered.forget_jobs()
        try:
            yield
            if not self.about("sheets"):
                self.note("sheets", self._fingerprint())
            if counts:
                self.note("generation", str(int(self.about("generation") or "0") + 1))
            self._connection.commit()
        except BaseException:
            self._connection.rollback()
            raise
        finally:
            self.remembered.forget_jobs()

    @contextmanager
    def reading(self) -> Iterator[None]:
        """A block in which all reads see one state."""
        self._connection.execute("BEGIN")
        try:
            generation = self.about("generation")
            self.remembered.turn_to(
                self.about("sheets"),
                f"{self.about('counted')} {generation}" if generation else "",
            )
            yield
        finally:
            self._connection.rollback()

    def about(self, key: str) -> str:
        """What is noted under a key, empty if nothing is."""
        row = self._connection.execute(
            "SELECT value FROM about WHERE key = ?", (key,)
        ).fetchone()
        return str(row[0]) if row else ""

    def note(self, key: str, value: str) -> None:
        """Note something under a key; to be called while changing."""
        self._connection.execute(
            "INSERT OR REPLACE INTO about VALUES (?, ?)", (key, value)
        )

    def empty(self) -> None:
        """Forget every entry and job, so that all are taken in again."""
        self.forget_jobs()
        for table in ("sheet", "term", "word"):
            self._connection.execute(f"DELETE FROM {table}")
        self.other_sheets()

    def forget_jobs(self) -> None:
        """Forget every job, so that a history can be taken in from its start."""
        self.note("mark", "")
        self.note("counted", "")
        self.jobs.forget()

    def other_sheets(self) -> None:
        """Note that entries change and not only jobs, so that what was remembered of them is read anew."""
        self.note("sheets", "")
        self.remembered.forget_entries()

    def _fingerprint(self) -> str:
        """What tells the entries and words in this index from all others."""
        found = hashlib.sha256(f"{file.VERSION} {self.about('words')}".encode())
        for row in self._connection.execute(
            "SELECT number, slug, stamp FROM sheet ORDER BY number"
        ):
            found.update(repr(row).encode("utf-8", "replace"))
        return found.hexdigest()

    def slugs(self) -> Mapping[int, str]:
        """Entry number to slug, of the entries that can be served; remembered."""
        return self.remembered.get(Kept.SLUGS, self.sheets.slugs)

    def entry(self, slug: str) -> Entry | None:
        """The entry of that slug, or None; remembered."""
        return self.remembered.get(Kept.ENTRY, lambda: self.sheets.entry(slug), slug)

    def entries(self) -> list[Entry]:
        """Every entry that can be served, by slug."""
        found = map(self.entry, self.slugs().values())
        return [entry for entry in found if entry]

    # What the search asks (kb.diagnosis.fit.Library)

    def postings(self, terms: Iterable[str]) -> Mapping[str, Posting]:
        """The postings of those terms that entries hold or were confirmed under."""
        if len(self._numbers()) > MOST_HELD:
            return self._read(set(terms))
        held: dict[str, Posting | None] = self.remembered.get(Kept.POSTINGS, dict)
        wanted = set(terms)
        known = {term: held[term] for term in wanted if term in held}
        read = dict.fromkeys(wanted - known.keys()) | self._read(wanted - known.keys())
        if len(held) + len(read) <= MOST_TERMS:
            held.update(read)
        return {
            term: posting
            for term, posting in (known | read).items()
            if posting is not None
        }

    def _read(self, wanted: Collection[str]) -> dict[str, Posting]:
        """The postings of those terms out of the file, with what complaints add to them."""
        found = postings.read(self._connection, wanted)
        numbers, scales = self._numbers(), self._scales()
        for term, said in self.spoken.holding(wanted).items():
            tenths = {
                number: max(round(units * scales[number]), 1)
                for entry, units in said
                if (number := numbers.get(entry)) is not None
            }
            if tenths:
                found[term] = spoken.with_said(found.get(term), tenths)
        return found

    def masses(self, view: str) -> Masses:
        """For every entry its summed counts in one view."""

        def load() -> Masses:
            scales = self._scales()
            summed = dict(self._own_masses().get(view, {}))
            for number, units in self._said_masses().get(view, {}).items():
                summed[number] = summed.get(number, 0) + round(units * scales[number])
            return Masses(summed)

        return self.remembered.get(Kept.MASSES, load, view)

    def _own_masses(self) -> Mapping[str, Mapping[int, int]]:
        """By view and entry the summed counts of its own texts."""
        return self.remembered.get(Kept.OWN_MASSES, self.sheets.masses)

    def _said_masses(self) -> dict[str, dict[int, int]]:
        """By view and entry, as far as they can be served, the summed units of its complaints."""
        numbers = self._numbers()
        served: dict[str, dict[int, int]] = {}
        for view, said in self.spoken.masses().items():
            served[view] = {
                numbers[entry]: units
                for entry, units in said.items()
                if entry in numbers
            }
        return served

    def _scales(self) -> Mapping[int, float]:
        """What a unit of its complaints counts in tenths, for every entry that has any; remembered."""

        def load() -> dict[int, float]:
            own, said = Counter[int](), Counter[int]()
            for masses in self._own_masses().values():
                own.update(masses)
            for masses in self._said_masses().values():
                said.update(masses)
            return spoken.scales(own, said)

        return self.remembered.get(Kept.SCALES, load)

    def _numbers(self) -> Mapping[str, int]:
        """Slug to entry number; remembered."""

        def load() -> dict[str, int]:
            return {slug: number for number, slug in self.slugs().items()}

        return self.remembered.get(Kept.NUMBERS, load)

    def knows(self, stem: str) -> bool:
        """Whether some word of the library has this stem."""
        return self.words.knows(stem)

    def guesses(
        self, typed: str, unfinished: bool, noise: Collection[str]
    ) -> tuple[spelling.Guess, ...]:
        """What a word that the library does not know may stand for; remembered."""
        return self.words.guesses(typed, unfinished, noise)
