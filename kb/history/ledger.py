"""The ledger, the precious file itself: records appended one after another, each sealed by the one before."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from types import TracebackType

from kb.base import durable
from kb.base.clock import OUTDATED, WRITTEN, Clock, clock_doubt, stamp, utc_now
from kb.history import schema
from kb.history.backups import newest_backup
from kb.history.ids import random_id
from kb.history.marks import Marker, Tip, read_marker, read_tip, write_marker, write_tip
from kb.history.record import Record, canonical, chain_of, first_link
from kb.history.rows import BATCH, Rows
from kb.history.trouble import HistoryTrouble, NoHistory, foreign, in_plain_words, lost

#: What copying meets where it writes, but for what it meets where it reads.
_OF_THE_TARGET = (sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN)
_OF_READING = (sqlite3.SQLITE_IOERR_READ, sqlite3.SQLITE_IOERR_SHORT_READ)


class Ledger(Rows):
    """An open history file. It belongs to the thread that opened it; opening takes about a millisecond."""

    def __init__(
        self,
        connection: sqlite3.Connection,
        path: Path,
        about: schema.About,
        clock: Clock,
        new_id: Callable[[], str],
        *,
        patience: float = schema.PATIENCE,
    ) -> None:
        super().__init__(connection, path, about.shop)
        self._clock = clock
        self._new_id = new_id
        self._patience = patience
        self._tail: Tip | None = None
        self._inode = path.stat().st_ino
        self.created = about.created

    @classmethod
    def open(
        cls,
        path: Path,
        clock: Clock = utc_now,
        new_id: Callable[[], str] = random_id,
        create: bool = True,
        patience: float = schema.PATIENCE,
    ) -> Ledger:
        """Open the history, or make a new one where there has never been one.

        A writer waits for others as many seconds as `patience` says.
        Raises HistoryLost, HistoryForeign, NoHistory (only if `create` is false), HistoryBusy or DiskTrouble.
        """
        with in_plain_words(path):
            marker = read_marker(path)
            _present_or_made(path, marker, clock, new_id, create)
            connection, about = _opened(path, marker, patience)
        if marker is None:
            with suppress(OSError):
                write_marker(path, Marker(about.shop, about.created))
        return cls(connection, path, about, clock, new_id, patience=patience)

    def stands(self) -> bool:
        """Whether the file that was opened is still the one at its path, and no newer program has taken it over.

        No other file has its number while it is open. Raises HistoryBusy and what else reading raises.
        """
        try:
            if self.path.stat().st_ino != self._inode:
                return False
        except OSError:
            return False
        newer = (
            "SELECT 1 FROM about WHERE key = 'schema' AND CAST(value AS INTEGER) > ?"
        )
        return not self._all(newer, (schema.SCHEMA,))

    def close(self) -> None:
        """Let the file go; closing twice does no harm."""
        self._connection.close()

    def __enter__(self) -> Ledger:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All that is appended inside is kept, on the disk, when the block ends, or none of it is.

        A block inside a block joins it. Raises HistoryBusy after waiting in vain.
        """
        if self._connection.in_transaction:
            yield
            return
        began = time.monotonic()
        with in_plain_words(self.path):
            try:
                self._connection.execute("BEGIN IMMEDIATE")
                before = self._tail = self.tip()
                yield
                self._commit(began)
                after = self._tail
            finally:
                self._tail = None
                with suppress(sqlite3.Error):
                    if self._connection.in_transaction:
                        self._connection.execute("ROLLBACK")
        if after != before:
            with suppress(OSError):
                write_tip(self.path, after)

    def append(
        self,
        kind: str,
        job: str,
        body: Mapping[str, object],
        token: str = "",
        shop: str = "",
    ) -> Record:
        """The new last record; the same token again appends nothing and gives the first record."""
        with self.transaction():
            if earlier := self.by_token(token):
                return earlier
            last = self.tip()
            record = Record(
                last.count + 1,
                self.fresh_id(),
                job,
                shop or self.shop,
                stamp(self.now()),
                kind,
                canonical(body),
                token or None,
                "",
            )
            record = replace(record, chain=chain_of(last.chain, record))
            values = [getattr(record, column) for column in schema.COLUMNS]
            if self._connection.execute(schema.INSERT, values).rowcount != 1:
                raise lost(
                    self.path,
                    "the file takes no records, something foreign in it keeps them out",
                )
            self._tail = Tip(record.seq, record.chain)
            return record

    def tip(self) -> Tip:
        """The number of records and the last chain value."""
        if self._tail is not None:
            return self._tail
        found = self._all(
            "SELECT seq, chain FROM records ORDER BY seq DESC LIMIT 1", ()
        )
        return Tip(*found[0]) if found else Tip(0, first_link(self.shop, self.created))

    def link(self, seq: int) -> str:
        """The chain value of the record with that number, of 0 that before the first; empty if there is none."""
        if seq == 0:
            return first_link(self.shop, self.created)
        found = self._all("SELECT chain FROM records WHERE seq = ?", (seq,))
        return str(found[0][0]) if found else ""

    def first_time_after(self, seq: int) -> str:
        """The earliest time among the first records after that number (`BATCH` of them), empty if there is none.

        One record may tell a wrong time; of many not all do.
        """
        found = self._all(
            "SELECT min(at) FROM (SELECT at FROM records WHERE seq > ? ORDER BY seq LIMIT ?)",
            (seq, BATCH),
        )
        return str(found[0][0] or "")

    def fresh_id(self) -> str:
        """An id that neither a record nor a job of this history has; HistoryTrouble if a hundred tries find none."""
        for _ in range(100):
            given = self._new_id()
            if not self._all(
                "SELECT 1 FROM records WHERE id = ? OR job = ? LIMIT 1", (given, given)
            ):
                return given
        raise HistoryTrouble(
            f"{self.path}: no free id was found, nothing saved; try again"
        )

    def now(self) -> datetime:
        """The time by the clock this history was given."""
        return self._clock()

    def clock_warning(self) -> str:
        """In words why the clock looks wrong, empty if it does not."""
        believable = f"at >= '{WRITTEN}' AND at < '{OUTDATED}'"
        last = self._all(
            f"SELECT at FROM records WHERE {believable} ORDER BY seq DESC LIMIT 1", ()
        )
        return clock_doubt(self.now(), last[0][0] if last else "", self.created)

    def copy_to(self, target: Path) -> None:
        """A complete copy as of one moment while others go on working.

        Raises what reading raises; the sqlite3.Error and OSError of the target's disk are left to the caller to name.
        """
        try:
            schema.copy_to(self._connection, target)
        except sqlite3.Error as error:
            code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT)
            if code & 0xFF in _OF_THE_TARGET and code not in _OF_READING:
                raise
            with in_plain_words(self.path):
                raise

    def _commit(self, began: float) -> None:
        """Commit within what is left of the waiting time, so that both waits together stay near it."""
        left = max(0.5, self._patience - (time.monotonic() - began))
        try:
            self._connection.execute(f"PRAGMA busy_timeout = {int(left * 1000)}")
            self._connection.execute("COMMIT")
        finally:
            self._connection.execute(
                f"PRAGMA busy_timeout = {int(self._patience * 1000)}"
            )


def _present_or_made(
    path: Path,
    marker: Marker | None,
    clock: Clock,
    new_id: Callable[[], str],
    create: bool,
) -> None:
    """Return if a file with content stands there or was just made; raise otherwise."""
    known = (
        marker is not None
        or read_tip(path) is not None
        or newest_backup(path) is not None
    )
    on_purpose = "(to start a new history on purpose, first move away history.id, history.tip and backups)"
    if path.is_dir():
        raise lost(path, "a folder stands where the history should be; move it away")
    if path.exists():
        if path.stat().st_size == 0:
            raise lost(
                path,
                "the history file is empty, its records are gone (if there never were any, remove the empty file)",
            )
    elif known:
        raise lost(path, f"the history file is missing {on_purpose}")
    elif not create:
        raise NoHistory(
            f"{path}: there is no history yet; save something first, or check the shop folder"
        )
    else:
        _make(path, clock, new_id)


def _make(path: Path, clock: Clock, new_id: Callable[[], str]) -> None:
    """Make a new history beside its place and move it there; another process may win, which is as good."""
    durable.make_folder(path.parent)
    fresh = durable.beside(path)
    fresh.unlink(missing_ok=True)
    try:
        connection = schema.connect(fresh, "rwc")
        try:
            # flushed as a whole when it is placed
            connection.execute("PRAGMA synchronous = OFF")
            schema.build(connection, new_id(), stamp(clock()))
        finally:
            connection.close()
        with suppress(FileExistsError):
            durable.place_new(fresh, path)
    finally:
        fresh.unlink(missing_ok=True)


def _opened(
    path: Path, marker: Marker | None, patience: float
) -> tuple[sqlite3.Connection, schema.About]:
    """The open file and what it says of itself, if it is this shop's and of a schema this program knows."""
    try:
        connection = schema.connect(path, patience=patience)
        try:
            return connection, _checked(connection, path, marker)
        except BaseException:
            connection.close()
            raise
    except sqlite3.DatabaseError as error:
        if (
            getattr(error, "sqlite_errorcode", 0) == sqlite3.SQLITE_NOTADB
            and marker is None
        ):
            raise foreign(
                path, "this file is not a history", "move the file away"
            ) from error
        raise


def _checked(
    connection: sqlite3.Connection, path: Path, marker: Marker | None
) -> schema.About:
    about = schema.read_about(connection)
    if about is None or not about.shop:
        raise foreign(
            path, "this database is not a history of this program", "move the file away"
        )
    if about.schema > schema.SCHEMA:
        raise foreign(
            path,
            f"a newer program wrote this history (schema {about.schema}, known here is {schema.SCHEMA})",
            "install the newer program",
        )
    if marker is not None and marker != Marker(about.shop, about.created):
        raise foreign(
            path,
            f"this is the history of shop {about.shop}, but history.id names "
            f"{'shop ' + marker.shop if marker.shop else 'none'}",
            "if the file is the right one, remove history.id",
        )
    if about.schema < schema.SCHEMA:
        schema.upgrade(connection, schema.migrations(), path)
        return schema.read_about(connection) or about
    return about
