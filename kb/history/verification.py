"""The verification of a history: the file's structure, every record against its chain, and the tail."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from kb.base.clock import Clock, clock_doubt, is_believable, utc_now
from kb.history import kinds, schema
from kb.history.ledger import Ledger
from kb.history.marks import Tip, read_tip
from kb.history.record import Record, chain_of, first_link
from kb.history.trouble import in_plain_words, restore_command

_FLOOR = frozenset(kind.name for kind in kinds.OF_THE_FLOOR)
#: How the tip file fits: "ahead" means that records at the end are gone, "differs" that they are others.
TipState = Literal["in step", "missing", "ahead", "differs"]


@dataclass(frozen=True, slots=True)
class Verification:
    """What a look through the whole history found; empty `structure` and `clock_warning` mean all is well."""

    path: Path
    sqlite_version: str
    journal_mode: str
    structure: str
    first_bad_seq: int | None
    records: int
    chain: str
    shop: str
    created: str
    tip: TipState
    clock_warning: str
    #: How many of the records tell of machines, lots and parts.
    of_the_floor: int = 0

    @property
    def chain_ok(self) -> bool:
        """Whether every record fits the one before it."""
        return self.first_bad_seq is None

    @property
    def ok(self) -> bool:
        """Whether all records are there as they were written; a doubtful clock does not count against it."""
        return not self.problems()

    def problems(self) -> tuple[str, ...]:
        """One sentence for each thing that is wrong; `todo` says what to do."""
        found = [f"the file is damaged ({self.structure})"] if self.structure else []
        if self.first_bad_seq is not None:
            found.append(
                f"record {self.first_bad_seq} is not as it was written or is missing"
            )
        if self.tip == "ahead":
            found.append("records at the end are missing")
        elif self.tip == "differs":
            found.append("the last known record is another one (history.tip)")
        return tuple(found)

    @property
    def todo(self) -> str:
        """The command that puts the last backup in place of a history that is not sound."""
        return restore_command(self.path)


def verify(path: Path, clock: Clock = utc_now) -> Verification:
    """Look through the shop's history at that path.

    Raises what opening raises: HistoryLost, HistoryForeign, NoHistory, HistoryBusy or DiskTrouble.
    """
    Ledger.open(path, clock, create=False).close()
    return examine(path, clock, read_tip(path))


def examine(
    path: Path,
    clock: Clock = utc_now,
    tip: Tip | None = None,
    *,
    read_only: bool = False,
) -> Verification:
    """Look through any file that should be a history, such as a copy; `tip` is the end it should reach.

    With `read_only` not even its journal mode is set to that of a history.
    """
    with in_plain_words(path):
        connection = schema.connect(path, "ro" if read_only else "rw")
        try:
            connection.text_factory = _any_text
            about = schema.read_about(connection) or schema.About("", "", 0)
            walk = _walk(connection, about, tip)
            return Verification(
                path,
                sqlite3.sqlite_version,
                connection.execute("PRAGMA journal_mode").fetchone()[0],
                _structure(connection, about),
                walk.first_bad,
                walk.last.count,
                walk.last.chain,
                about.shop,
                about.created,
                walk.tip,
                clock_doubt(clock(), walk.last_at, about.created),
                walk.of_the_floor,
            )
        finally:
            connection.close()


@dataclass
class _ChainWalk:
    """What reading every record in order has shown so far."""

    last: Tip
    last_at: str = ""  # of the last record with a time that can be right
    first_bad: int | None = None
    tip: TipState = "missing"
    of_the_floor: int = 0

    def step(self, record: Record) -> None:
        """Go on to the next record, and keep the number of the first that does not fit."""
        sound = record.seq == self.last.count + 1 and record.chain == chain_of(
            self.last.chain, record
        )
        if not sound and self.first_bad is None:
            self.first_bad = self.last.count + 1
        self.last = Tip(record.seq, str(record.chain))
        self.of_the_floor += record.kind in _FLOOR
        if is_believable(str(record.at)):
            self.last_at = str(record.at)


def _walk(
    connection: sqlite3.Connection, about: schema.About, tip: Tip | None
) -> _ChainWalk:
    walk = _ChainWalk(Tip(0, first_link(about.shop, about.created)))
    if tip is not None:
        walk.tip = "in step" if tip == walk.last else "ahead"
    try:
        for row in connection.execute(
            f"SELECT {', '.join(schema.COLUMNS)} FROM records ORDER BY seq"
        ):
            walk.step(Record(*row))
            if tip is not None and tip.count == walk.last.count:
                walk.tip = "in step" if tip == walk.last else "differs"
    except (sqlite3.DatabaseError, TypeError, ValueError):
        walk.first_bad = walk.first_bad or walk.last.count + 1
    return walk


def _structure(connection: sqlite3.Connection, about: schema.About) -> str:
    try:
        found = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if found != "ok":
            return str(found)
        if about.schema > schema.SCHEMA:
            return f"a newer program wrote it (schema {about.schema}, known here is {schema.SCHEMA})"
        if about.schema < 1 or not about.shop:
            return "the table about is not as it was written"
        return schema.differences(connection, about.schema)
    except sqlite3.DatabaseError as error:
        return str(error)


def _any_text(raw: bytes) -> str:
    """Text as it stands, so that a byte that is no UTF-8 breaks the chain instead of the reading."""
    return raw.decode("utf-8", "surrogateescape")
