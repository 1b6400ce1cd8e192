"""A door with a clock set by hand, and wrong tries at it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from webui.guard.door import Door, WrongPassphrase

Monkey = pytest.MonkeyPatch
GOOD, READING = "four plain words here", "only looking at it"


class Watch:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def pass_by(self, **given: float) -> None:
        self.now += timedelta(**given)


def wrong(door: Door, times: int, address: str = "192.0.2.7") -> None:
    for _ in range(times):
        with pytest.raises(WrongPassphrase):
            door.enter("wrong wrong wrong", address)
