"""Restoring: what was lost comes back, and nothing sound is replaced unasked."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from helpers.backed_up import (
    FOREIGN,
    NOW,
    add_records,
    cut_the_tail,
    edit_a_record,
    everything,
)

from kb.base.trouble import Refusal
from kb.history import History
from kb.history.copies.backup import backup, restore
from kb.history.marks import read_marker
from kb.history.trouble import BackupTrouble, HistoryForeign, HistoryLost
from kb.history.verification import verify


def test_a_destroyed_shop_comes_back_from_its_backup(
    shop: Path, tmp_path: Path
) -> None:
    before = everything(shop)
    (tmp_path / "safe").mkdir()
    manifest = backup(shop, tmp_path / "safe" / "shop.zip", NOW)
    shutil.rmtree(shop)

    report = restore(tmp_path / "safe" / "shop.zip", shop, NOW)

    assert report.manifest == manifest
    assert (report.kept, report.left) == (None, ())
    assert everything(shop) == before
    assert verify(shop / "history.db", lambda: NOW).ok
    assert verify(shop / "history.db", lambda: NOW).tip == "in step"
    assert sorted(path.name for path in shop.iterdir()) == [
        "backups",
        "entries",
        "history.db",
        "history.id",
        "history.tip",
        "words.toml",
    ]


def test_a_restored_history_takes_new_records(shop: Path, tmp_path: Path) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    restore(tmp_path / "shop.zip", tmp_path / "new", NOW)
    add_records(tmp_path / "new", 1)
    assert verify(tmp_path / "new" / "history.db", lambda: NOW).records == 21


def test_a_sound_history_is_not_replaced_unless_asked(
    shop: Path, tmp_path: Path
) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    add_records(shop, 1)
    before = everything(shop)
    with pytest.raises(
        Refusal, match=r"already holds a sound history of 21 records.*--replace"
    ):
        restore(tmp_path / "shop.zip", shop, NOW)
    assert everything(shop) == before


def test_what_is_replaced_is_kept_aside_under_a_dated_name(
    shop: Path, tmp_path: Path
) -> None:
    before = everything(shop)
    backup(shop, tmp_path / "shop.zip", NOW)
    add_records(shop, 1)
    (shop / "entries" / "no-light.md").write_text("edited since")
    (shop / "entries" / "new.md").write_text("written since")

    report = restore(tmp_path / "shop.zip", shop, NOW, replace=True)

    assert report.kept == shop / "kept-20261124T101500Z"
    assert (report.kept / "entries" / "no-light.md").read_text() == "edited since"
    assert verify(report.kept / "history.db", lambda: NOW).records == 21
    assert (shop / "entries" / "new.md").read_text() == "written since"
    (shop / "entries" / "new.md").unlink()
    assert everything(shop) == before
    assert (
        restore(tmp_path / "shop.zip", shop, NOW, replace=True).kept
        == shop / "kept-20261124T101500Z-2"
    )


def vanish(path: Path) -> None:
    path.unlink()


def empty(path: Path) -> None:
    path.write_bytes(b"")


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:5000])


def leave_a_journal(path: Path) -> None:
    """No file, but the live journal of an unfinished write, which would be played into any file put there."""
    add_records(path.parent, 30)
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA cache_size = 1")
    connection.execute("BEGIN IMMEDIATE")
    for seq in range(51, 400):
        connection.execute(
            "INSERT INTO records VALUES (?, ?, '', '', '', 'x', ?, NULL, '')",
            (seq, str(seq), "x" * 500),
        )
    journal = path.with_name("history.db-journal").read_bytes()
    connection.execute("ROLLBACK")
    connection.close()
    path.unlink()
    path.with_name("history.db-journal").write_bytes(journal)


@pytest.mark.parametrize(
    "harm", [vanish, empty, cut, leave_a_journal, edit_a_record, cut_the_tail]
)
def test_a_lost_history_comes_back_by_the_command_it_names(
    shop: Path, tmp_path: Path, harm: Callable[[Path], None]
) -> None:
    before = everything(shop)
    backup(shop, tmp_path / "shop.zip", NOW)
    harm(shop / "history.db")
    harmed = (
        (shop / "history.db").read_bytes() if (shop / "history.db").exists() else None
    )

    report = restore(tmp_path / "shop.zip", shop, NOW)

    assert report.kept is not None
    if harmed is not None:
        assert (report.kept / "history.db").read_bytes() == harmed
    assert verify(shop / "history.db", lambda: NOW).ok
    assert everything(shop) == before
    assert not list(shop.glob("history.db-*"))


def test_entries_edited_since_stay_when_only_the_history_was_lost(
    shop: Path, tmp_path: Path
) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    (shop / "history.db").unlink()
    (shop / "entries" / "no-light.md").write_text("edited since")
    (shop / "words.toml").unlink()
    report = restore(tmp_path / "shop.zip", shop, NOW)
    assert report.left == ("entries/no-light.md",)
    assert (shop / "entries" / "no-light.md").read_text() == "edited since"
    assert (shop / "words.toml").exists()


def test_the_backup_of_another_shop_is_put_in_only_when_asked(
    shop: Path, tmp_path: Path
) -> None:
    add_records(tmp_path / "other", 3)
    backup(tmp_path / "other", tmp_path / "other.zip", NOW)
    (shop / "history.db").unlink()
    with pytest.raises(Refusal, match="belongs to shop"):
        restore(tmp_path / "other.zip", shop, NOW)
    with pytest.raises(HistoryLost):
        History.open(shop / "history.db")
    restore(tmp_path / "other.zip", shop, NOW, replace=True)
    assert read_marker(shop / "history.db") == read_marker(
        tmp_path / "other" / "history.db"
    )
    assert verify(shop / "history.db", lambda: NOW).records == 3


def test_another_programs_database_is_not_moved_away_unasked(
    shop: Path, tmp_path: Path
) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "history.db").write_text("notes on history\n" * 100)
    with pytest.raises(HistoryForeign, match="--replace"):
        restore(tmp_path / "shop.zip", tmp_path / "new", NOW)
    assert (tmp_path / "new" / "history.db").read_text().startswith("notes")


def test_a_missing_backup_is_said_plainly(shop: Path, tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="there is no such backup"):
        restore(tmp_path / "none.zip", shop, NOW)


@pytest.mark.parametrize("statement", FOREIGN)
def test_a_history_with_something_foreign_in_it_is_named_and_not_restored(
    shop: Path, tmp_path: Path, statement: str
) -> None:
    """A trigger of others could keep records out that were acknowledged."""
    with sqlite3.connect(shop / "history.db") as file:
        file.execute(statement)
    file.close()

    name = statement.split()[2]
    assert any(
        f"do not belong there: {name}" in problem
        for problem in verify(shop / "history.db").problems()
    )
    with pytest.raises(BackupTrouble, match=f"do not belong there: {name}"):
        restore(shop / "history.db", tmp_path / "new", NOW)


def test_tables_that_sqlite_and_a_streaming_program_keep_are_no_harm(
    shop: Path,
) -> None:
    with sqlite3.connect(shop / "history.db") as file:
        file.execute(
            "CREATE TABLE _litestream_seq (id INTEGER PRIMARY KEY, seq INTEGER)"
        )
        file.execute("ANALYZE")
    file.close()

    assert verify(shop / "history.db").problems() == ()
