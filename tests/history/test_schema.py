"""The schema of the history: tables that refuse to change or lose a record, and how they are brought up to date."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from helpers.ledgers import raw
from sqlite_utils import Database, Migrations

from kb.history import History, schema
from kb.history.trouble import HistoryForeign
from kb.history.verification import verify

#: The columns after seq and id of the first record, with a token to be filled in.
REST = "job, shop, at, kind, body, {}, chain FROM records WHERE seq = 1"


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE records SET body = '{}'",
        "DELETE FROM records",
        "DELETE FROM records WHERE seq = 5",
        f"INSERT OR REPLACE INTO records SELECT 3, 'x', {REST.format('NULL')}",
        f"INSERT OR REPLACE INTO records SELECT 6, id, {REST.format('NULL')}",
        f"INSERT OR REPLACE INTO records SELECT 6, 'x', {REST.format('token')}",
        f"INSERT INTO records SELECT 9, 'x', {REST.format('NULL')}",
        "UPDATE about SET value = 'x'",
        "DELETE FROM about",
        "INSERT INTO about VALUES ('shop', 'x')",
        "INSERT OR REPLACE INTO about SELECT key, value FROM about",
    ],
)
def test_the_file_itself_refuses_to_change_or_lose_a_record(
    path: Path, statement: str
) -> None:
    connection = raw(path)
    before = connection.execute("SELECT * FROM records, about").fetchall()
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute(statement)
    assert connection.execute("SELECT * FROM records, about").fetchall() == before
    connection.close()


def test_the_tables_take_no_value_of_another_type(path: Path) -> None:
    connection = raw(path)
    with pytest.raises(sqlite3.IntegrityError, match="cannot store"):
        connection.execute(
            "INSERT INTO records VALUES (6, x'00', '', '', '', '', '', NULL, '')"
        )
    connection.close()


def next_schema(fails: bool = False) -> Migrations:
    """The present steps and one that a later program might bring."""
    steps = schema.migrations()

    @steps(name="shelves")
    def shelves(db: Database) -> None:
        db.table("shelf").create({"name": str}, pk="name", strict=True)
        db.table("about").insert({"key": "schema", "value": str(schema.SCHEMA + 1)})
        if fails:
            raise RuntimeError("power cut")

    return steps


def test_before_a_migration_the_file_is_copied_aside(path: Path) -> None:
    with History.open(path) as history:
        records = list(history.records_since())
    connection = schema.connect(path)
    schema.upgrade(connection, next_schema(), path)
    connection.close()

    with History.open(path.with_name("history.before-shelves.db")) as copy:
        assert list(copy.records_since()) == records
    with pytest.raises(
        HistoryForeign, match=r"newer program wrote .* \(schema 2, known here is 1\)"
    ):
        History.open(path)


def test_a_migration_that_fails_changes_nothing(path: Path) -> None:
    connection = schema.connect(path)
    with pytest.raises(RuntimeError):
        schema.upgrade(connection, next_schema(fails=True), path)
    connection.close()
    assert verify(path).ok
