"""The index as a file: its tables, opened or made anew, and what tells that it is damaged."""

from __future__ import annotations

import sqlite3
from contextlib import suppress
from pathlib import Path

from kb.index import elsewhere, floor, jobs, postings, sheets, spoken

#: Raised whenever what the index holds changes its meaning: an index of another version is made anew. A new field of
#: a job changes it by itself.
VERSION = f"26 {' '.join(jobs.COLUMNS)}"

_SCHEMA = (
    "CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;\n"
    + sheets.SCHEMA
    + jobs.SCHEMA
    + floor.SCHEMA
    + postings.SCHEMA
    + spoken.SCHEMA
    + elsewhere.SCHEMA
)

#: What SQLite says of a file that holds no sound database.
_DAMAGED = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_ERROR)


def is_damage(error: Exception) -> bool:
    """Whether an error shows that the index holds what was never written to it; text that is no UTF-8 does."""
    if not isinstance(error, sqlite3.DatabaseError):
        return True
    code = getattr(error, "sqlite_errorcode", None)
    return "decode" in str(error) if code is None else code & 0xFF in _DAMAGED


def opened_or_anew(path: Path) -> sqlite3.Connection:
    """The index at that path; one that cannot be read is removed and made anew."""
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        return opened(path)
    except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
        if not is_damage(error):
            raise
    remove(path)
    return opened(path)


def remove(path: Path) -> None:
    """Remove the file and its journal, if they are there."""
    for name in (path, path.with_name(f"{path.name}-journal")):
        with suppress(OSError):
            name.unlink(missing_ok=True)


def opened(path: Path | str) -> sqlite3.Connection:
    """The index at that path, laid out; `:memory:` for one that lives as long as it is open."""
    connection = sqlite3.connect(
        path, timeout=10, isolation_level=None, check_same_thread=False
    )
    try:
        connection.execute("PRAGMA synchronous = NORMAL")
        # readers are kept out while a change is written, not before
        connection.execute("PRAGMA cache_spill = OFF")
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
    if not connection.execute(
        "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'about'"
    ).fetchone():
        return ""
    row = connection.execute("SELECT value FROM about WHERE key = 'version'").fetchone()
    return str(row[0]) if row else ""
