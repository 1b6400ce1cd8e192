"""Backups: made while others work, checked, put back, and never in place of something sound."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from helpers.backed_up import NOW, cut_the_tail, edit_a_record
from helpers.places import ROOT

from kb.base.trouble import Refusal
from kb.history.copies.backup import backup, daily, restore, rotate
from kb.history.trouble import BackupTrouble, NoHistory
from kb.history.verification import verify


def test_texts_that_were_put_away_and_settings_come_back_too(
    shop: Path, tmp_path: Path
) -> None:
    (shop / "entries" / ".kept").mkdir()
    (shop / "entries" / ".kept" / "no-light-2026-03-01.md").write_text(
        "put away", encoding="utf-8"
    )
    (shop / "shop.toml").write_text('lacks = ["multimeter"]\n', encoding="utf-8")
    (tmp_path / "safe").mkdir()
    backup(shop, tmp_path / "safe" / "shop.zip", NOW)
    shutil.rmtree(shop)

    restore(tmp_path / "safe" / "shop.zip", shop, NOW)

    assert (shop / "entries" / ".kept" / "no-light-2026-03-01.md").read_text(
        encoding="utf-8"
    ) == "put away"
    assert (shop / "shop.toml").read_text(
        encoding="utf-8"
    ) == 'lacks = ["multimeter"]\n'


WRITER = """
import sys
from pathlib import Path
from kb.history import History, kinds
with History.open(Path(sys.argv[1])) as history:
    while True:
        print(history.note(kinds.NO_FIT, "", {"words": "x" * 200}).seq, flush=True)
"""


def test_a_backup_made_under_load_holds_all_that_was_acknowledged_before(
    shop: Path, tmp_path: Path
) -> None:
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(shop / "history.db")],
        cwd=ROOT,
        text=True,
        stdout=subprocess.PIPE,
    )
    assert writer.stdout is not None
    for copy in range(3):
        for _ in range(10):
            acknowledged = int(writer.stdout.readline())
        manifest = backup(shop, tmp_path / f"{copy}.zip", NOW)
        assert manifest.records >= acknowledged
    writer.kill()
    writer.communicate()
    restore(tmp_path / "2.zip", tmp_path / "new", NOW)
    assert (
        verify(tmp_path / "new" / "history.db", lambda: NOW).records == manifest.records
    )


def test_an_existing_file_is_never_overwritten_by_a_backup(
    shop: Path, tmp_path: Path
) -> None:
    (tmp_path / "shop.zip").write_text("something else")
    with pytest.raises(Refusal, match="exists already; give the backup another name"):
        backup(shop, tmp_path / "shop.zip", NOW)
    assert (tmp_path / "shop.zip").read_text() == "something else"


def test_a_shop_without_a_history_has_nothing_to_back_up(tmp_path: Path) -> None:
    with pytest.raises(NoHistory):
        backup(tmp_path / "shop", tmp_path / "shop.zip", NOW)
    assert not (tmp_path / "shop.zip").exists()


@pytest.mark.parametrize("harm", [edit_a_record, cut_the_tail])
def test_a_history_that_is_not_sound_is_not_backed_up(
    shop: Path, tmp_path: Path, harm: Callable[[Path], None]
) -> None:
    harm(shop / "history.db")
    with pytest.raises(
        BackupTrouble,
        match=f"no backup was made .*benchlore restore FILE --shop {shop}",
    ):
        backup(shop, tmp_path / "shop.zip", NOW)
    assert [path.name for path in tmp_path.iterdir()] == ["shop"]


def test_a_backup_can_be_made_while_the_clock_is_wrong(
    shop: Path, tmp_path: Path
) -> None:
    backup(shop, tmp_path / "shop.zip", datetime(1970, 1, 1, tzinfo=UTC))
    assert (
        restore(tmp_path / "shop.zip", tmp_path / "new", NOW).manifest.made
        == "1970-01-01T00:00:00Z"
    )


def test_the_backup_of_the_day_is_made_once(shop: Path) -> None:
    first = daily(shop, NOW)
    assert first == shop / "backups" / "benchlore-2026-11-24.zip"
    content = first.read_bytes()
    assert daily(shop, NOW + timedelta(hours=3)) is None
    assert first.read_bytes() == content
    assert (
        daily(shop, NOW + timedelta(days=1))
        == shop / "backups" / "benchlore-2026-11-25.zip"
    )


def test_the_backup_of_a_day_long_past_is_not_rotated_out_at_once(shop: Path) -> None:
    for day in range(9):
        daily(shop, NOW + timedelta(days=day))
    made = daily(shop, datetime(1970, 1, 1, tzinfo=UTC))
    assert made is not None
    assert made.exists()


def test_old_backups_thin_out_to_one_a_week(tmp_path: Path) -> None:
    """2026-11-24 is a Tuesday of ISO week 48 (ISO 8601 calendar)."""
    for day in range(100):
        (tmp_path / f"benchlore-{NOW - timedelta(days=day):%Y-%m-%d}.zip").touch()
    (tmp_path / "benchlore-before-the-move.zip").touch()
    (tmp_path / "benchlore-2026-02-31.zip").touch()

    removed = rotate(tmp_path)

    kept = sorted(path.name for path in tmp_path.iterdir())
    days = [f"benchlore-2026-11-{day}.zip" for day in (18, 19, 20, 21, 22, 23, 24)]
    weeks = [
        f"benchlore-2026-{day}.zip"
        for day in (
            "10-04",
            "10-11",
            "10-18",
            "10-25",
            "11-01",
            "11-08",
            "11-15",
            "11-17",
        )
    ]
    others = ["benchlore-2026-02-31.zip", "benchlore-before-the-move.zip"]
    assert kept == sorted(days + weeks + others)
    assert len(removed) == 100 - 15
    assert rotate(tmp_path) == ()


def test_a_failed_daily_backup_removes_no_older_one(shop: Path) -> None:
    (shop / "backups").mkdir()
    for day in range(1, 31):
        (shop / "backups" / f"benchlore-2026-10-{day:02}.zip").touch()
    edit_a_record(shop / "history.db")
    with pytest.raises(BackupTrouble):
        daily(shop, NOW)
    assert len(list((shop / "backups").iterdir())) == 30
