"""Troubles of the history, told with the command that helps."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.history import History
from kb.history.trouble import HistoryLost


def test_the_restore_command_names_the_newest_daily_backup_and_quotes_the_folder(
    tmp_path: Path,
) -> None:
    path = tmp_path / "my shop" / "history.db"
    History.open(path).close()
    (path.parent / "backups").mkdir()
    for day in ("2026-11-23", "2026-11-24"):
        (path.parent / "backups" / f"benchlore-{day}.zip").touch()
    path.unlink()
    with pytest.raises(HistoryLost) as caught:
        History.open(path)
    shop = path.parent
    assert (
        f"benchlore restore '{shop}/backups/benchlore-2026-11-24.zip' --shop '{shop}'"
        in str(caught.value)
    )
