"""What histories of the tests are made with: a clock and ids that count up, and a closed job."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta

from kb.history import History, kinds
from kb.history.exchange import ImportReport, read_lines, take_in
from kb.history.record import Record
from kb.model import Confirmation, Finding

START = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)
NOON = Confirmation(
    "no-light/dc-jack", model="Tern 13", minutes=12, closed_at="2026-11-24T12:00:00Z"
)


def minute_by_minute() -> Callable[[], datetime]:
    minutes = itertools.count()
    return lambda: START + timedelta(minutes=next(minutes))


def counted_ids(letter: str = "a") -> Callable[[], str]:
    numbers = itertools.count(1)
    return lambda: f"{letter}{next(numbers):011d}"


def note_finding(history: History, job: str, found: Finding, token: str = "") -> Record:
    """The record of what a test showed on an open job."""
    return history.note(
        kinds.FINDING, job, {"test": found.test, "outcome": found.outcome}, token
    )


def import_jobs(
    history: History, lines: Iterable[str], file: str = "import"
) -> ImportReport:
    """Read lines as another shop has written them, and take them in."""
    return take_in(history, list(read_lines(lines, file)), file)
