"""The schema of the history: strict tables, append-only by trigger, brought up to date by named migrations."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from kb.base import durable

# costs a quarter of a second to import, and only making and migrating need it
if TYPE_CHECKING:
    from sqlite_utils import Database, Migrations

#: The schema this program writes: the number of the last migration.
SCHEMA = 1

#: How the names of the tables begin that a program which streams the file keeps in it.
STREAMERS = "_litestream_"

#: How the names of tables begin that may stand beside those of the history.
HARMLESS = ("sqlite_", STREAMERS)

#: How long one writer waits for another, in seconds, unless told otherwise.
PATIENCE = 5.0

#: How SQLite flushes: EXTRA alone keeps an acknowledged record through a power cut with this journal.
SYNCHRONOUS = "EXTRA"

COLUMNS = ("seq", "id", "job", "shop", "at", "kind", "body", "token", "chain")

INSERT = f"INSERT INTO records ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"

_APPEND_ONLY = """
    CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table}
    BEGIN SELECT RAISE(ABORT, 'the history is append-only: add a record instead of changing one'); END;
    CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table}
    BEGIN SELECT RAISE(ABORT, 'the history is append-only: retract instead of deleting'); END;
"""

# INSERT OR REPLACE would remove rows without firing a DELETE trigger.
_NO_REPLACE = """
    CREATE TRIGGER records_no_replace BEFORE INSERT ON records
    WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM records)
        OR EXISTS (SELECT 1 FROM records WHERE id = NEW.id)
        OR EXISTS (SELECT 1 FROM records WHERE token = NEW.token)
    BEGIN SELECT RAISE(ABORT, 'the history is append-only: a record of this seq, id or token exists'); END;
    CREATE TRIGGER about_no_replace BEFORE INSERT ON about
    WHEN EXISTS (SELECT 1 FROM about WHERE key = NEW.key AND (key <> 'schema' OR value = NEW.value))
    BEGIN SELECT RAISE(ABORT, 'the history is append-only: this fact is already written'); END;
"""


@dataclass(frozen=True, slots=True)
class About:
    """What a history says of itself: the shop's id, when it was made (UTC), and its schema."""

    shop: str
    created: str
    schema: int


def migrations() -> Migrations:
    """The named steps from an empty file to the present schema, in order."""
    from sqlite_utils import Migrations

    steps = Migrations("history")

    @steps(name="records-and-about")
    def records_and_about(db: Database) -> None:
        text = dict.fromkeys(COLUMNS[1:], str)
        db.table("records").create(
            {"seq": int, **text},
            pk="seq",
            strict=True,
            not_null=[column for column in COLUMNS if column != "token"],
        )
        db.table("records").create_index(["id"], "records_id", unique=True)
        db.table("records").create_index(["token"], "records_token", unique=True)
        db.table("records").create_index(["job"], "records_job")
        db.table("records").create_index(["kind"], "records_kind")
        db.table("about").create(
            {"key": str, "value": str},
            pk=("key", "value"),
            strict=True,
            not_null=["key", "value"],
        )
        for statement in _statements(
            _APPEND_ONLY.format(table="records"),
            _APPEND_ONLY.format(table="about"),
            _NO_REPLACE,
        ):
            db.execute(statement)
        db.table("about").insert({"key": "schema", "value": "1"})

    return steps


def connect(
    path: Path, mode: str = "rw", patience: float = PATIENCE, journal: str = "DELETE"
) -> sqlite3.Connection:
    """A connection of this thread with the history's settings; a missing file is not made in mode rw.

    In mode ro the file keeps the journal it has.

    Rollback journal and full flushing, since the stock library's write-ahead log can corrupt a file
    that two connections write at once (a known defect of SQLite before 3.51.3).
    """
    connection = sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=patience,
        isolation_level=None,
    )
    try:
        for setting in (
            *([f"journal_mode = {journal}"] if mode != "ro" else ()),
            f"synchronous = {SYNCHRONOUS}",
            "foreign_keys = ON",
            "trusted_schema = OFF",
            "cache_spill = OFF",
        ):
            connection.execute(f"PRAGMA {setting}")
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def build(connection: sqlite3.Connection, shop: str, created: str) -> None:
    """Make the tables of a new history and write whose it is."""
    upgrade(connection, migrations())
    connection.execute("BEGIN IMMEDIATE")
    connection.executemany(
        "INSERT INTO about (key, value) VALUES (?, ?)",
        [("created", created), ("shop", shop)],
    )
    connection.execute("COMMIT")


def upgrade(
    connection: sqlite3.Connection, steps: Migrations, path: Path | None = None
) -> None:
    """Apply the steps still pending, all or none; the file at `path` is first copied aside.

    The copy is `history.before-NAME.db`, NAME the first pending step.
    """
    from sqlite_utils import Database

    db = Database(connection)
    pending = [step.name for step in steps.pending(db)]
    if not pending:
        return
    if path is not None:
        copy_to(connection, path.with_name(f"{path.stem}.before-{pending[0]}.db"))
    connection.execute("BEGIN IMMEDIATE")
    try:
        steps.apply(db)
        connection.execute("COMMIT")
    finally:
        if connection.in_transaction:
            connection.execute("ROLLBACK")


def copy_to(connection: sqlite3.Connection, target: Path) -> None:
    """A complete copy as of one moment, on the disk when this returns; replaces an existing target."""
    fresh = durable.beside(target)
    fresh.unlink(missing_ok=True)
    try:
        connection.execute("VACUUM INTO ?", (str(fresh),))
        durable.sync_file(fresh)
        fresh.replace(target)
        durable.sync_folder(target.parent)
    finally:
        fresh.unlink(missing_ok=True)


def read_about(connection: sqlite3.Connection) -> About | None:
    """What the file says of itself, None if it holds no history."""
    tables = connection.execute(
        "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name IN ('about', 'records')"
    ).fetchone()
    if tables[0] != 2:
        return None
    facts = connection.execute("SELECT key, value FROM about").fetchall()
    numbers = [
        value for key, value in facts if key == "schema" and str(value).isdecimal()
    ]
    told = {str(key): str(value) for key, value in facts}
    return About(
        told.get("shop", ""), told.get("created", ""), max(map(int, numbers), default=0)
    )


def differences(connection: sqlite3.Connection, number: int) -> str:
    """In words how the tables, indexes and triggers differ from those of schema `number`; empty if not.

    What is too much is a difference as well: a trigger that others put in may keep records out of the file. Tables of
    SQLite itself and of a program that streams the file do no harm.
    """
    from sqlite_utils import Database

    wanted = sqlite3.connect(":memory:", isolation_level=None)
    try:
        db, steps = Database(wanted), migrations()
        steps.apply(db, stop_before=[step.name for step in steps.pending(db)][number:])
        due, found = _objects(wanted), _objects(connection)
    finally:
        wanted.close()
    missing = {str(name) for _, name, _, _ in due - found}
    foreign = {
        str(name)
        for _, name, table, _ in found - due
        if not str(table).startswith(HARMLESS)
    } - missing
    told = []
    if missing:
        told.append(
            f"tables or triggers are missing or changed: {', '.join(sorted(missing))}"
        )
    if foreign:
        told.append(
            f"tables or triggers are in it that do not belong there: {', '.join(sorted(foreign))}"
        )
    return "; ".join(told)


def _objects(connection: sqlite3.Connection) -> set[tuple[object, ...]]:
    return set(
        connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_master")
    )


def _statements(*scripts: str) -> list[str]:
    """Single statements out of trigger scripts, each of which ends in `END;`."""
    return [
        f"{part.strip()} END"
        for script in scripts
        for part in script.split("END;")
        if part.strip()
    ]
