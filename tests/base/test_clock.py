"""Clocks that are doubted, and times that are written down."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from helpers.histories import NOON, START

from kb.history import History


@pytest.mark.parametrize(
    ("now", "doubt"),
    [
        (START, ""),
        (START + timedelta(days=300), ""),
        (START - timedelta(minutes=5), ""),
        (
            START - timedelta(minutes=5, seconds=1),
            "but the last record is of 2026-11-24T10:00:00Z",
        ),
        (START - timedelta(hours=1), "but the last record is of 2026-11-24T10:00:00Z"),
        (START - timedelta(days=1), "but the last record is of"),
        (datetime(1970, 1, 1, tzinfo=UTC), "which cannot be"),
        (datetime(2015, 1, 1, tzinfo=UTC), "which cannot be"),
        (datetime(2099, 1, 1, tzinfo=UTC), "which cannot be"),
        (datetime(9999, 12, 31, tzinfo=UTC), "which cannot be"),
        (datetime(1, 1, 1, tzinfo=UTC), "which cannot be"),
        (START.replace(year=2036), "more than two years after the last record"),
        (START.astimezone(timezone(timedelta(hours=-11))), ""),
    ],
)
def test_a_clock_that_cannot_be_right_is_doubted(
    tmp_path: Path, now: datetime, doubt: str
) -> None:
    with History.open(tmp_path / "history.db", lambda: START) as history:
        history.close_job(NOON)
    with History.open(tmp_path / "history.db", lambda: now) as history:
        assert doubt in history.clock_warning()
        assert bool(doubt) == bool(history.clock_warning())
