"""Marks beside the history: its id and its tip."""

from __future__ import annotations

from pathlib import Path

from kb.history import History


def test_a_lost_id_file_is_written_again(path: Path) -> None:
    before = path.with_name("history.id").read_bytes()
    path.with_name("history.id").unlink()
    History.open(path).close()
    assert path.with_name("history.id").read_bytes() == before
