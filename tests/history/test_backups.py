"""The daily backups: the one that holds the most records is worth most, whatever day its name says."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

from kb.history.backups import BACKUPS, newest_backup


def test_the_fullest_backup_is_named_and_a_torn_one_only_where_there_is_no_other(
    tmp_path: Path,
) -> None:
    history, folder = tmp_path / "history.db", tmp_path / BACKUPS
    assert newest_backup(history) is None

    folder.mkdir()
    torn = folder / "benchlore-2099-01-01.zip"
    torn.write_bytes(b"PK torn")
    assert newest_backup(history) == torn

    for day, records in (("2026-01-02", 5), ("2026-01-01", 7)):
        with zipfile.ZipFile(folder / f"benchlore-{day}.zip", "w") as archive:
            archive.writestr("manifest.json", json.dumps({"records": records}))
    assert newest_backup(history) == folder / "benchlore-2026-01-01.zip"
