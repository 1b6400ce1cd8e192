"""Rounds of a server: the backup of the day once, a copy that follows, and left-overs swept up."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from kb.base.durable import beside
from kb.history import History
from kb.history.backups import BACKUPS
from kb.history.copies.archive import read_manifest
from kb.history.copies.rounds import FOLLOWING, Rounds
from kb.model import Confirmation

NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)


def rounds(shop: Path, copy_to: Path | None = None) -> Rounds:
    return Rounds(shop, lambda: NOW, list[str]().append, copy_to)


def test_a_shop_without_a_history_is_left_in_peace(tmp_path: Path) -> None:
    rounds(tmp_path).look()

    assert not (tmp_path / "history.db").exists()


def test_the_backup_of_the_day_is_made_once_and_the_copy_follows_every_record(
    shop: Path, tmp_path: Path
) -> None:
    copies = tmp_path / "stick"
    copies.mkdir()
    looks = rounds(shop, copies)
    looks.look()
    (made,) = (shop / BACKUPS).glob("*.zip")
    first = read_manifest(copies / FOLLOWING)

    with History.open(shop / "history.db", lambda: NOW) as history:
        history.close_job(Confirmation("no-light/dc-jack", model="Tern 13"))
    looks.look()

    assert list((shop / BACKUPS).glob("*.zip")) == [made]
    second = read_manifest(copies / FOLLOWING)
    assert first
    assert second
    assert second.records == first.records + 1


def test_what_a_dead_process_left_half_written_is_swept_up(shop: Path) -> None:
    mine = beside(shop / "words.toml")
    left = mine.with_name(f".words.toml.{2**22 + 1}-1.new")
    for path in (mine, left):
        path.touch()

    rounds(shop).look()

    assert (mine.exists(), left.exists()) == (True, False)
