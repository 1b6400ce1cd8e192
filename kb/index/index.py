"""The derived SQLite index: entries, their terms and the closed jobs, refreshed when files or history change."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from kb.index import packing, postings
from kb.language import spelling
from kb.language.terms import NOTHING, Content
from kb.language.words import stem
from kb.model import Entry, Job, Remark, Unread

Value = TypeVar("Value")

#: Raised whenever what the index holds changes its meaning: an index of another version is made anew.
VERSION = "9"

_SCHEMA = (
    """
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
CREATE TABLE sheet (
    number INTEGER PRIMARY KEY, slug TEXT NOT NULL UNIQUE, stamp TEXT NOT NULL, own INTEGER NOT NULL,
    title TEXT NOT NULL, area TEXT NOT NULL, entry BLOB NOT NULL, remarks TEXT NOT NULL,
    content BLOB NOT NULL, said TEXT NOT NULL, spoken BLOB NOT NULL, masses TEXT NOT NULL, unread INTEGER NOT NULL
) STRICT;
CREATE INDEX sheet_by_stamp ON sheet (slug, stamp);
CREATE INDEX sheet_unread ON sheet (slug) WHERE unread;
CREATE TABLE job (
    seq INTEGER PRIMARY KEY, job TEXT NOT NULL UNIQUE, shop TEXT NOT NULL, model TEXT NOT NULL, unit TEXT NOT NULL,
    entry TEXT NOT NULL, cause TEXT NOT NULL, words TEXT NOT NULL, read_words TEXT NOT NULL, minutes REAL,
    part TEXT NOT NULL, donor TEXT NOT NULL, outcomes TEXT NOT NULL, closed_at TEXT NOT NULL,
    note TEXT NOT NULL, by TEXT NOT NULL, retracted TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX job_by_entry ON job (entry, model);
CREATE INDEX job_by_words ON job (read_words);
"""
    + postings.SCHEMA
)

#: The columns that hold what is told of a job.
_TOLD = "job, shop, model, unit, entry, cause, words, minutes, part, donor, outcomes, closed_at, note, by"

#: What SQLite says of a file that holds no sound database.
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR)


def is_damage(error: Exception) -> bool:
    """Whether an error shows that the index holds what was never written to it; text that is no UTF-8 does."""
    if not isinstance(error, sqlite3.DatabaseError):
        return True
    code = getattr(error, "sqlite_errorcode", None)
    return "decode" in str(error) if code is None else code & 0xFF in _DAMAGED


#: What the threads of this process remember of entries, by their fingerprint, and of entries and jobs together, by
#: state; the last few are kept.
_OF_ENTRIES: dict[str, dict[object, object]] = {}
_OF_STATES: dict[str, dict[object, object]] = {}
_KEPT = 3
#: So many things are remembered, more than a library of some hundred entries has; of larger ones the last half of it.
MOST_REMEMBERED = 2_000
_UNKNOWN = object()


def _shared(remembered: dict[str, dict[object, object]], key: str) -> dict[object, object]:
    """What is remembered under that key, the same for all threads."""
    held = remembered.setdefault(key, {})
    for old in list(remembered)[:-_KEPT]:
        if old != key:
            remembered.pop(old, None)
    return held


@dataclass(frozen=True, slots=True)
class Sheet:
    """An entry as the index takes it in: its file's stamp, and what its own texts hold."""

    slug: str
    stamp: str
    own: bool
    entry: Entry | None
    remarks: tuple[Remark, ...]
    content: Content
    unread: bool = False


@dataclass(frozen=True, slots=True)
class _Held:
    """How a sheet is counted: its own texts' content, and what the complaints under which it was confirmed add."""

    number: int
    content: Content
    spoken: Content


@dataclass(frozen=True, slots=True)
class Spoken:
    """A complaint under which causes of an entry were confirmed, and the share of it that belongs there."""

    text: str
    share: float


@dataclass(frozen=True, slots=True)
class Written:
    """The words of the entries and the lexicon, without those that were only said in jobs.

    Read by these, a job's complaint is read alike whenever it is taken in and whatever jobs came before or went.
    """

    index: Index

    def knows(self, stem: str) -> bool:
        """Whether some word of an entry or of the lexicon has this stem."""
        found = self.index.connection.execute("SELECT 1 FROM word WHERE stem = ? AND written > 0 LIMIT 1", (stem,))
        return found.fetchone() is not None

    def guesses(self, typed: str, unfinished: bool, noise: Collection[str]) -> tuple[spelling.Guess, ...]:
        """What a word that they do not know may stand for; remembered."""
        key = ("guesses by the written", typed, unfinished)
        return self.index.remembered(key, lambda: spelling.guesses(typed, self._words(), unfinished, noise))

    def _words(self) -> Mapping[str, float]:
        written = "SELECT word, written FROM word WHERE written > 0 ORDER BY word"
        return self.index.remembered("written", lambda: dict(self.index.connection.execute(written)))


class Index:
    """An open index. Anything wrong with the file, and it is made anew: nothing in it is precious.

    Where no file can be made (a full or write-protected disk), it is held in memory, by this object alone.
    """

    def __init__(self, path: Path | None) -> None:
        self.path = path
        self._generation = ""
        self._cache: dict[object, object] = {}
        self._sheets = ""
        self._lasting: dict[object, object] = {}
        try:
            self.connection = _opened_or_anew(path) if path else _opened(":memory:")
            self._inode = path.stat().st_ino if path else 0
        except (sqlite3.DatabaseError, OSError):
            self.path = None
            self.connection = _opened(":memory:")

    def close(self) -> None:
        """Let the file go."""
        self.connection.close()

    def stands(self) -> bool:
        """Whether the file that was opened is still the one at its path; one in memory always is."""
        try:
            return self.path is None or self.path.stat().st_ino == self._inode
        except OSError:
            return False

    def damage(self) -> str:
        """What SQLite's quick check finds wrong with the file, empty if nothing."""
        found = str(self.connection.execute("PRAGMA quick_check(1)").fetchone()[0])
        return "" if found == "ok" else found

    def discard(self) -> None:
        """Close the index and remove its file, since something in it is wrong."""
        self.close()
        if self.path is not None:
            _remove(self.path)

    @contextmanager
    def changing(self, patience: float = 10.0, counts: bool = True) -> Iterator[None]:
        """A block in which all changes are kept, or none; one process at a time, waited for in seconds.

        With `counts` false nothing that is counted changes, so that what was remembered stays.
        Raises sqlite3.OperationalError if another is changing it for longer, or the disk does not take it.
        """
        self.connection.execute(f"PRAGMA busy_timeout = {int(patience * 1000)}")
        try:
            self.connection.execute("BEGIN IMMEDIATE")
        finally:
            self.connection.execute("PRAGMA busy_timeout = 10000")
        self._forget()
        try:
            yield
            if not self.about("sheets"):
                self._note("sheets", self._fingerprint())
            if counts:
                self._note("generation", str(int(self.about("generation") or "0") + 1))
            self.connection.commit()
        except BaseException:
            self.connection.rollback()
            raise
        finally:
            self._forget()

    def _forget(self) -> None:
        self._generation, self._cache = "", {}

    @contextmanager
    def reading(self) -> Iterator[None]:
        """A block in which all reads see one state."""
        self.connection.execute("BEGIN")
        try:
            generation = self.about("generation")
            if generation != self._generation:
                self._generation = generation
                sheets = self.about("sheets")
                self._cache = _shared(_OF_STATES, f"{sheets} {self.about('counted')} {generation}") if sheets else {}
                if sheets != self._sheets:
                    self._sheets, self._lasting = sheets, _shared(_OF_ENTRIES, sheets) if sheets else {}
            yield
        finally:
            self.connection.rollback()

    # What the index says of itself

    def about(self, key: str) -> str:
        """What is noted under a key, empty if nothing is."""
        row = self.connection.execute("SELECT value FROM about WHERE key = ?", (key,)).fetchone()
        return str(row[0]) if row else ""

    def note(self, key: str, value: str) -> None:
        """Note something under a key; to be called while changing."""
        self._note(key, value)

    def _note(self, key: str, value: str) -> None:
        self.connection.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (key, value))

    # Entries

    def stamps(self) -> dict[str, str]:
        """Slug to the stamp of the file as last taken in."""
        return dict(self.connection.execute("SELECT slug, stamp FROM sheet"))

    def put_sheets(self, sheets: Iterable[Sheet], spoken: Callable[[str, Content], Content]) -> None:
        """Take in new or changed sheets; `spoken` gives what the shop's own wordings add to what a sheet holds."""
        self._other_sheets()
        with self._recounting() as recounted:
            for sheet in sheets:
                held = self._held(sheet.slug) or _Held(self._next_number(), NOTHING, NOTHING)
                self._keep_sheet(held.number, sheet)
                added = spoken(sheet.slug, sheet.content) if sheet.entry else NOTHING
                recounted(held, _Held(held.number, sheet.content, added))

    def recount(self, slugs: Iterable[str], spoken: Callable[[str, Content], Content]) -> None:
        """Count anew what the shop's own wordings add to those entries, where they can be served."""
        with self._recounting() as recounted:
            for slug in slugs:
                held = self._held(slug)
                if held and held.content.terms:
                    recounted(held, _Held(held.number, held.content, spoken(slug, held.content)))

    def drop_sheets(self, slugs: Sequence[str]) -> None:
        """Forget the entries whose files are gone."""
        if not slugs:
            return
        self._other_sheets()
        with self._recounting() as recounted:
            for slug in slugs:
                held = self._held(slug)
                if held:
                    recounted(held, _Held(held.number, NOTHING, NOTHING))
        self.connection.executemany("DELETE FROM sheet WHERE slug = ?", [(slug,) for slug in slugs])

    @contextmanager
    def _recounting(self) -> Iterator[Callable[[_Held, _Held], None]]:
        """A block that tells how entries were counted before and after; all of it is written at its end."""
        changes, written, said = postings.Changes(self.connection), Counter[str](), Counter[str]()

        def recounted(before: _Held, after: _Held) -> None:
            old, new = before.content + before.spoken, after.content + after.spoken
            changes.move(before.number, old.terms, new.terms)
            for words, gone, come in (
                (written, before.content, after.content),
                (said, before.spoken, after.spoken),
            ):
                words.subtract(gone.words)
                words.update(come.words)
            self._keep_counts(after, new.terms)

        yield recounted
        changes.write()
        postings.change_words(self.connection, stem, written, said)

    def _keep_sheet(self, number: int, sheet: Sheet) -> None:
        entry = sheet.entry
        self.connection.execute(
            "INSERT INTO sheet VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, x'', '{}', ?) ON CONFLICT (number) DO UPDATE SET "
            "stamp = excluded.stamp, own = excluded.own, title = excluded.title, area = excluded.area, "
            "entry = excluded.entry, remarks = excluded.remarks, content = excluded.content, said = excluded.said, "
            "unread = excluded.unread",
            (
                number, sheet.slug, sheet.stamp, int(sheet.own),
                entry.title if entry else "", entry.area if entry else "",
                packing.packed(entry) if entry else b"",
                json.dumps([[r.file, r.line, r.problem, r.instead] for r in sheet.remarks]),
                sheet.content.packed(),
                json.dumps(entry.dangers if entry else []),
                int(sheet.unread),
            ),
        )  # fmt: skip

    def _keep_counts(self, held: _Held, counts: Mapping[str, int]) -> None:
        masses: Counter[str] = Counter()
        for term, count in counts.items():
            masses[term[0]] += count
        self.connection.execute(
            "UPDATE sheet SET spoken = ?, masses = ? WHERE number = ?",
            (held.spoken.packed(), json.dumps(masses), held.number),
        )

    def _held(self, slug: str) -> _Held | None:
        """How a sheet is counted, None if there is no such sheet."""
        row = self.connection.execute("SELECT number, content, spoken FROM sheet WHERE slug = ?", (slug,)).fetchone()
        return _Held(row[0], Content.unpacked(row[1]), Content.unpacked(row[2])) if row else None

    def _next_number(self) -> int:
        return int(self.connection.execute("SELECT coalesce(max(number), -1) + 1 FROM sheet").fetchone()[0])

    def put_known_words(self, words: Mapping[str, int]) -> None:
        """Make words known that stand in no entry, with their counts; to be called when the index is empty."""
        postings.change_words(self.connection, stem, words, {})

    def empty(self) -> None:
        """Forget every entry and job, so that all are taken in again."""
        for table in ("sheet", "term", "word", "job"):
            self.connection.execute(f"DELETE FROM {table}")
        self._note("mark", "")
        self._note("counted", "")
        self._other_sheets()

    def forget_jobs(self) -> list[str]:
        """Forget every job, so that a history can be taken in from its start; gives the entries that had any."""
        entries = [slug for (slug,) in self.connection.execute("SELECT DISTINCT entry FROM job")]
        self.connection.execute("DELETE FROM job")
        self._note("mark", "")
        self._note("counted", "")
        return entries

    def _fingerprint(self) -> str:
        """What tells the entries and words in this index from all others."""
        found = hashlib.sha256(f"{VERSION} {self.about('words')}".encode())
        for row in self.connection.execute("SELECT number, slug, stamp FROM sheet ORDER BY number"):
            found.update(repr(row).encode("utf-8", "replace"))
        return found.hexdigest()

    def _other_sheets(self) -> None:
        """Note that entries change and not only jobs, so that what was remembered of them is read anew."""
        self._note("sheets", "")
        self._sheets, self._lasting = "", {}

    def slugs(self) -> Mapping[int, str]:
        """Entry number to slug, of the entries that can be served."""
        return self.remembered(
            "slugs",
            lambda: dict(self.connection.execute("SELECT number, slug FROM sheet WHERE entry <> x'' ORDER BY slug")),
            lasting=True,
        )

    def entry(self, slug: str) -> Entry | None:
        """The entry of that slug, or None."""
        return self.remembered(f"entry {slug}", lambda: self.entry_now(slug), lasting=True)

    def entry_now(self, slug: str) -> Entry | None:
        """The entry of that slug as it stands within a change."""
        row = self.connection.execute("SELECT entry FROM sheet WHERE slug = ? AND entry <> x''", (slug,)).fetchone()
        return packing.unpacked(row[0]) if row else None

    def dangers(self) -> dict[str, list[str]]:
        """The words that name the danger of an entry, of the entries that say any."""
        rows = self.connection.execute("SELECT slug, said FROM sheet WHERE said <> '[]' ORDER BY slug")
        return {slug: json.loads(said) for slug, said in rows}

    def remarks(self) -> list[Remark]:
        """What reading the files gave to remark on, by file and line."""
        rows = self.connection.execute("SELECT remarks FROM sheet ORDER BY slug")
        return [Remark(*one) for (remarks,) in rows for one in json.loads(remarks)]

    def unread(self) -> tuple[Unread, ...]:
        """The shop's own files of which nothing can be served."""
        found = []
        rows = self.connection.execute("SELECT remarks, entry <> x'' FROM sheet WHERE unread ORDER BY slug")
        for remarks, stands_in in rows:
            file, line, problem, _ = json.loads(remarks)[0]
            found.append(Unread(file, line, problem, bool(stands_in)))
        return tuple(found)

    # What the search asks (kb.diagnosis.fit.Library)

    def postings(self, terms: Iterable[str]) -> Mapping[str, postings.Posting]:
        """The postings of those terms that the library holds."""
        return postings.read(self.connection, terms)

    def masses(self, view: str) -> Mapping[int, int]:
        """For every entry its summed counts in one view."""

        def load() -> dict[str, dict[int, int]]:
            by_view: dict[str, dict[int, int]] = {}
            for number, masses in self.connection.execute(
                "SELECT number, masses FROM sheet WHERE entry <> x'' ORDER BY slug"
            ):
                for name, mass in json.loads(masses).items():
                    by_view.setdefault(name, {})[number] = mass
            return by_view

        return self.remembered("masses", load).get(view, {})

    def knows(self, stem: str) -> bool:
        """Whether some word of the library has this stem."""
        return self.connection.execute("SELECT 1 FROM word WHERE stem = ? LIMIT 1", (stem,)).fetchone() is not None

    def guesses(self, typed: str, unfinished: bool, noise: Collection[str]) -> tuple[spelling.Guess, ...]:
        """What a word that the library does not know may stand for; remembered, since every key typed asks again."""
        key = ("guesses", typed, unfinished)
        return self.remembered(key, lambda: spelling.guesses(typed, self.words(), unfinished, noise))

    def words(self) -> Mapping[str, float]:
        """Every word as written in the library, with its count."""
        return self.remembered(
            "words", lambda: dict(self.connection.execute("SELECT word, written + said FROM word ORDER BY word"))
        )

    def written(self) -> Written:
        """The words of the entries and the lexicon alone, by which jobs' complaints are read."""
        return Written(self)

    # Jobs

    def put_job(self, seq: int, job: Job, read_words: str) -> None:
        """Take in a closed job; one that is known already is left alone."""
        told = told_of(job)
        self.connection.execute(
            f"INSERT OR IGNORE INTO job (seq, read_words, {_TOLD}) VALUES (?, ?, {', '.join('?' * len(told))})",
            (seq, read_words, *told),
        )

    def jobs(self) -> Iterator[tuple[object, ...]]:
        """What is held of every job that counts, each as `told_of` gives it, in the order of the history."""
        return self.connection.execute(f"SELECT {_TOLD} FROM job WHERE retracted = '' ORDER BY seq")

    def retract_job(self, seq: int, job: str) -> None:
        """Take a job out of every count; one put away before it was closed stays out if it comes in closed later."""
        self.put_job(seq, Job(job, model="", cause="", closed_at=""), "")
        self.connection.execute("UPDATE job SET retracted = 'retracted' WHERE job = ?", (job,))

    def entries_of_job(self, job: str) -> list[str]:
        """The entries whose counts change with that job: its own, and those confirmed under the same words."""
        return [
            slug
            for (slug,) in self.connection.execute(
                "SELECT DISTINCT entry FROM job WHERE job = ? OR (read_words <> '' AND read_words = "
                "(SELECT read_words FROM job WHERE job = ?))",
                (job, job),
            )
        ]

    def spoken(self, slug: str) -> list[Spoken]:
        """The complaints under which this entry was confirmed, each once, with the share that is this entry's."""
        rows = self.connection.execute(
            "SELECT read_words, CAST(sum(entry = ?) AS REAL) / count(*) FROM job WHERE retracted = '' AND read_words "
            "IN (SELECT read_words FROM job WHERE entry = ? AND retracted = '' AND read_words <> '') "
            "GROUP BY read_words ORDER BY read_words",
            (slug, slug),
        )
        return [Spoken(text, share) for text, share in rows]

    def remembered(self, key: object, load: Callable[[], Value], lasting: bool = False) -> Value:
        """What `load` gives, kept until the index changes; to be called while reading.

        With `lasting` it is kept until an entry changes: for what hangs on entries and words alone, not on jobs.
        """
        cache = self._lasting if lasting else self._cache
        found = cache.get(key, _UNKNOWN)
        if found is _UNKNOWN:
            found = cache[key] = load()
            if len(cache) > MOST_REMEMBERED:
                for old in list(cache)[: MOST_REMEMBERED // 2]:
                    cache.pop(old, None)
        return found  # type: ignore[return-value]


def told_of(job: Job) -> tuple[object, ...]:
    """All that the index holds of a job, in the order of its columns; its id first."""
    outcomes = json.dumps([[found.test, found.outcome] for found in job.outcomes])
    return (
        job.job, job.shop, job.model, job.unit, job.entry, job.cause, job.words, job.minutes, job.part, job.donor,
        outcomes, job.closed_at, job.note, job.by,
    )  # fmt: skip


def _opened_or_anew(path: Path) -> sqlite3.Connection:
    """The index at that path; one that cannot be read is removed and made anew."""
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        return _opened(path)
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        if not is_damage(error):
            raise
    _remove(path)
    return _opened(path)


def _remove(path: Path) -> None:
    for name in (path, path.with_name(f"{path.name}-journal")):
        with suppress(OSError):
            name.unlink(missing_ok=True)


def _opened(path: Path | str) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=10, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA synchronous = NORMAL")
        connection.execute("PRAGMA cache_spill = OFF")  # readers are kept out while a change is written, not before
        if _version(connection) != VERSION:
            _lay_out(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def _lay_out(connection: sqlite3.Connection) -> None:
    """Make the tables, instead of those of another version; another process may have been quicker."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        if _version(connection) != VERSION:
            tables = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' ESCAPE '\\'"
            for (name,) in connection.execute(tables).fetchall():
                connection.execute(f'DROP TABLE IF EXISTS "{name}"')
            for statement in filter(str.strip, _SCHEMA.split(";\n")):
                connection.execute(statement)
            connection.execute("INSERT INTO about VALUES ('version', ?)", (VERSION,))
        connection.commit()
    except BaseException:
        connection.rollback()
        raise


def _version(connection: sqlite3.Connection) -> str:
    """The version of the index in a file, empty if it holds none."""
    if not connection.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'about'").fetchone():
        return ""
    row = connection.execute("SELECT value FROM about WHERE key = 'version'").fetchone()
    return str(row[0]) if row else ""
