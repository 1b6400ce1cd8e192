"""The daily backups beside a history, and which of them is worth most."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

#: The folder beside the history in which the server keeps its daily backups.
BACKUPS = "backups"


def newest_backup(path: Path) -> Path | None:
    """The daily backup beside this history that holds the most records, since the days in the names can be wrong.

    None if there is none.
    """
    return max(
        (path.parent / BACKUPS).glob("benchlore-*.zip"), key=_worth, default=None
    )


def _worth(backup: Path) -> tuple[int, str]:
    """How many records a backup says it holds, -1 if it cannot be read; then its name."""
    try:
        with zipfile.ZipFile(backup) as archive:
            return int(
                json.loads(archive.read("manifest.json"))["records"]
            ), backup.name
    except Exception:  # whatever is wrong with it, another backup is better
        return -1, backup.name
