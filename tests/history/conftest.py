"""Histories in memory, with a clock and ids that count up."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.histories import counted_ids, minute_by_minute
from helpers.shops import quick_folder

from kb.history import History
from kb.model import Confirmation


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    with quick_folder() as folder:
        yield folder


@pytest.fixture
def history(tmp_path: Path) -> Iterator[History]:
    with History.open(
        tmp_path / "history.db", minute_by_minute(), counted_ids()
    ) as opened:
        yield opened


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A history of five closed jobs in a shop folder of its own."""
    path = tmp_path / "shop" / "history.db"
    with History.open(path) as history:
        for unit in range(5):
            confirmed = Confirmation(
                "no-light/dc-jack", model="Tern 13", unit=f"T-{unit}"
            )
            history.close_job(confirmed, f"form-{unit}")
    return path
