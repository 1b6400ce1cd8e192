"""Verification: every altered, missing or cut-off record is named."""

from __future__ import annotations

import random
import sqlite3
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers.ledgers import raw

from kb.history import History, kinds
from kb.history.trouble import HistoryLost, HistoryTrouble
from kb.history.verification import verify


def rows(path: Path) -> list[tuple[object, ...]] | str:
    """Every record and fact as the file gives them, or what it says instead."""
    try:
        connection = raw(path)
        connection.text_factory = bytes
        try:
            return [
                *connection.execute("SELECT * FROM records ORDER BY seq"),
                *connection.execute("SELECT * FROM about ORDER BY key, value"),
            ]
        finally:
            connection.close()
    except sqlite3.Error as error:
        return str(error)


@pytest.mark.slow
def test_every_flipped_bit_that_alters_a_record_is_found(path: Path) -> None:
    """A flip that changes or hides a row is found by SQLite's check or by the chain, none by neither."""
    with History.open(path) as history, history.together():
        for number in range(60):
            history.note(
                kinds.NO_FIT, "", {"words": f"{number} no light when plugged in " * 14}
            )
    sound, before = path.read_bytes(), rows(path)
    chance = random.Random(20261124)
    altered = missed = 0
    for _ in range(400):
        place = chance.randrange(len(sound) * 8)
        harmed = bytearray(sound)
        harmed[place // 8] ^= 1 << place % 8
        path.write_bytes(harmed)
        if rows(path) != before:
            altered += 1
            missed += sound_to_the_check(path)
    assert altered > 120
    assert missed == 0


def sound_to_the_check(path: Path) -> bool:
    try:
        return verify(path).ok
    except HistoryTrouble:
        return False


def test_a_record_edited_behind_the_triggers_is_named(path: Path) -> None:
    connection = raw(path)
    for trigger in ("records_no_update", "records_no_delete"):
        connection.execute(f"DROP TRIGGER {trigger}")
    connection.execute(
        "UPDATE records SET body = replace(body, 'T-2', 'T-9') WHERE seq = 3"
    )
    connection.close()

    found = verify(path)

    assert found.first_bad_seq == 3
    assert "records_no_delete, records_no_update" in found.structure
    assert "record 3 is not as it was written or is missing" in found.problems()
    assert not found.ok


def test_a_record_removed_from_the_middle_is_named(path: Path) -> None:
    connection = raw(path)
    text = connection.execute(
        "SELECT sql FROM sqlite_master WHERE name = 'records_no_delete'"
    ).fetchone()[0]
    connection.execute("DROP TRIGGER records_no_delete")
    connection.execute("DELETE FROM records WHERE seq = 2")
    connection.execute(text)
    connection.close()
    found = verify(path)
    assert (found.first_bad_seq, found.structure, found.ok) == (2, "", False)


def test_a_cut_off_tail_is_noticed_by_the_tip(path: Path) -> None:
    earlier = path.read_bytes()
    with History.open(path) as history:
        history.open_job("Tern 13")
    path.write_bytes(earlier)
    found = verify(path)
    assert (found.tip, found.chain_ok, found.structure, found.ok) == (
        "ahead",
        True,
        "",
        False,
    )
    assert found.problems() == ("records at the end are missing",)


def test_a_tip_that_lags_behind_is_no_trouble(path: Path) -> None:
    earlier = path.with_name("history.tip").read_bytes()
    with History.open(path) as history:
        history.open_job("Tern 13")
    path.with_name("history.tip").write_bytes(earlier)
    assert verify(path).ok
    path.with_name("history.tip").unlink()
    assert (verify(path).tip, verify(path).ok) == ("missing", True)


def test_a_sound_history_says_how_it_is_kept(path: Path) -> None:
    found = verify(path, lambda: datetime(1970, 1, 1, tzinfo=UTC))
    assert (found.sqlite_version, found.journal_mode) == (
        sqlite3.sqlite_version,
        "delete",
    )
    assert (found.records, found.tip, found.ok) == (5, "in step", True)
    assert "cannot be" in found.clock_warning


def test_a_damaged_record_is_said_and_not_a_traceback(path: Path) -> None:
    connection = raw(path)
    connection.execute(
        "INSERT INTO records SELECT 6, 'x', job, shop, at, kind, 'no json', NULL, chain FROM records WHERE seq = 5"
    )
    connection.close()
    with (
        History.open(path) as history,
        pytest.raises(HistoryLost, match="record 6 is damaged"),
    ):
        list(history.closed_jobs())
