"""A mirror of the history: the same records in a second file with a write-ahead log, for programs that stream one.

The mirror is made from the history and only ever appended to, so the history keeps its rollback journal
(see `schema.connect`). What the mirror holds may be the last witness of what a shop lost: one that does not
fit the history is left as it is, and so is the history.
"""

from __future__ import annotations

import os
import shlex
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from operator import attrgetter
from pathlib import Path

from kb.base import durable
from kb.base.clock import Clock
from kb.base.trouble import Refusal
from kb.history import schema
from kb.history.copies.backup import checked_copy
from kb.history.copies.watch import Watch
from kb.history.ledger import Ledger
from kb.history.marks import Tip
from kb.history.record import Record, chain_of, first_link
from kb.history.trouble import DiskTrouble, HistoryLost, HistoryTrouble, NoHistory
from kb.history.verification import examine

#: Seconds between two looks at the history: the mirror is about so far behind.
EVERY = 1.0

#: Seconds after a trouble, since what is looked through again then may be large.
REST = 15.0

_WORKSHOP = "mirror"
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


class Mirror(Watch):
    """Follows a history into the file `mirror` until stopped, and once more then.

    Raises Refusal for a place where the mirror could be taken for the history.
    """

    def __init__(
        self,
        history: Path,
        mirror: Path,
        clock: Clock,
        say: Callable[[str], None],
        every: float = EVERY,
    ) -> None:
        super().__init__("mirror", "the mirror does not follow", say, every, REST)
        _refuse_to_confuse(history, mirror)
        self._history = history
        self._mirror = mirror
        self._clock = clock
        self._reached: Tip | None = None
        self._sound: int | None = None

    def stop(self) -> None:
        """End, with what was saved since the last look in the mirror."""
        super().stop()
        if not self._thread.is_alive():
            self.look_and_tell()

    def look(self) -> None:
        """Bring the mirror up to the last record; make it if it is missing. No history is nothing to mirror.

        Raises Refusal if the mirror there does not fit the history, and what opening and reading raise.
        """
        if self._reached is None:
            durable.sweep(self._mirror.parent, _WORKSHOP)
        try:
            with Ledger.open(self._history, self._clock, create=False) as ledger:
                if not os.path.lexists(self._mirror):
                    self._make()
                elif ledger.tip() != self._reached:
                    self._follow(ledger)
        except NoHistory:
            return
        except HistoryLost as lost:
            if self._mirror.exists():
                raise HistoryLost(
                    f"{lost}; the mirror is newer: {self._way_back()}"
                ) from lost
            raise

    def _make(self) -> None:
        """A new mirror from a complete copy that passed its check."""
        for tail in ("-wal", "-journal"):
            left = self._mirror.with_name(self._mirror.name + tail)
            if left.exists() and left.stat().st_size:
                raise Refusal(
                    f"{left} stands there without its mirror; move it away and a new mirror is made"
                )
        with self._in_mirrors_words():
            durable.make_folder(self._mirror.parent)
            with durable.workshop(self._mirror.parent, _WORKSHOP) as work:
                made = checked_copy(self._history, work / "mirror.db", self._clock())
                schema.connect(work / "mirror.db", journal="WAL").close()
                durable.place_new(work / "mirror.db", self._mirror)
        self._reached, self._sound = (
            Tip(made.records, made.chain),
            self._mirror.stat().st_ino,
        )

    def _follow(self, ledger: Ledger) -> None:
        """Append what the history has beyond the mirror, after a full check of a mirror met for the first time."""
        number = self._mirror.stat().st_ino
        self._recognise(ledger)
        if number != self._sound:
            self._check(ledger)
        with (
            self._in_mirrors_words(),
            closing(schema.connect(self._mirror, journal="WAL")) as mirror,
        ):
            # Whoever streams the log moves it into the file; without such a program closing does.
            mirror.execute("PRAGMA wal_autocheckpoint = 0")
            if number != self._sound:
                schema.upgrade(mirror, schema.migrations())
            mirror.execute("BEGIN IMMEDIATE")
            try:
                last = _tip(mirror, ledger)
                values = map(
                    attrgetter(*schema.COLUMNS),
                    _sealed(self._beyond(ledger, last), last.chain),
                )
                mirror.executemany(schema.INSERT, values)
                reached = _tip(mirror, ledger)
                mirror.execute("COMMIT")
            finally:
                if mirror.in_transaction:
                    mirror.execute("ROLLBACK")
        self._reached, self._sound = reached, number

    def _recognise(self, ledger: Ledger) -> None:
        """Read whose mirror it is without touching it; raises Refusal if it is not that of this history."""
        with (
            self._in_mirrors_words(),
            closing(schema.connect(self._mirror, "ro")) as mirror,
        ):
            about = schema.read_about(mirror)
        if about is None or (about.shop, about.created) != (
            ledger.shop,
            ledger.created,
        ):
            raise self._left_alone("it is not of this history")

    def _check(self, ledger: Ledger) -> None:
        """Look through a mirror without touching it; raises Refusal unless it is the sound beginning of the history."""
        try:
            found = examine(self._mirror, self._clock, read_only=True)
        except HistoryLost as damage:
            raise self._left_alone("it is damaged") from damage
        if not found.ok:
            raise self._left_alone("; ".join(found.problems()))
        self._beyond(ledger, Tip(found.records, found.chain))

    def _beyond(self, ledger: Ledger, last: Tip) -> Iterator[Record]:
        """The history's records after `last`; raises Refusal if `last` is none of them."""
        if not last.count:
            return ledger.since(0)
        records = ledger.since(last.count - 1)
        common = next(records, None)
        if common is None or common.chain != last.chain:
            raise self._left_alone(
                f"it holds records that this history does not have (to go back to them: {self._way_back()} --replace)"
            )
        return records

    def _way_back(self) -> str:
        shop = self._history.parent
        return f"benchlore restore {shlex.quote(str(self._mirror))} --shop {shlex.quote(str(shop))}"

    def _left_alone(self, why: str) -> Refusal:
        return Refusal(
            f"{self._mirror}: {why}; it was left as it is; move it away if it is of no use"
        )

    @contextmanager
    def _in_mirrors_words(self) -> Iterator[None]:
        """Tell troubles of the mirror's file as what they are: saving is not concerned."""
        try:
            yield
        except UnicodeDecodeError as error:  # from a message that quotes damaged text
            raise self._left_alone("it is damaged") from error
        except (sqlite3.Error, OSError) as error:
            if getattr(error, "sqlite_errorcode", 0) & 0xFF in _DAMAGE:
                raise self._left_alone(f"it is damaged ({error})") from error
            raise DiskTrouble(
                f"{self._mirror}: {error}; saving goes on, and this is tried again"
            ) from error


def _tip(mirror: sqlite3.Connection, ledger: Ledger) -> Tip:
    """How many of the ledger's records the mirror has, and the chain value of the last one."""
    found = mirror.execute(
        "SELECT seq, chain FROM records ORDER BY seq DESC LIMIT 1"
    ).fetchone()
    return Tip(*found) if found else Tip(0, first_link(ledger.shop, ledger.created))


def _sealed(records: Iterator[Record], chain: str) -> Iterator[Record]:
    """The records as long as each fits the one before, so that damage does not travel into the mirror."""
    for record in records:
        if record.chain != chain_of(chain, record):
            raise HistoryTrouble(
                f"record {record.seq} of the history is not as it was written; see benchlore verify"
            )
        chain = record.chain
        yield record


def _refuse_to_confuse(history: Path, mirror: Path) -> None:
    shop = history.parent.resolve()
    is_beside_it = mirror.resolve().is_relative_to(shop)
    is_named_like_it = mirror.name.casefold() == history.name
    is_the_same = mirror.exists() and history.exists() and mirror.samefile(history)
    if is_beside_it or is_named_like_it or is_the_same:
        raise Refusal(
            f"{mirror} could be taken for the history; give the mirror a name other than {history.name}, outside {shop}"
        )
