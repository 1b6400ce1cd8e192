"""Clocks that are set by hand."""

from __future__ import annotations

from datetime import UTC, datetime


class Clock:
    """A clock that stands at `now` until it is set."""

    def __init__(
        self, now: datetime = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)
    ) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now
