"""Turns: answers one after another, as threads that compute side by side in one interpreter make each other wait."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Lock

#: Seconds after which an answer does not wait for the one before any longer: that one may be waiting for a disk.
PATIENCE = 0.25

_turn = Lock()


@contextmanager
def turn() -> Iterator[None]:
    """Begin when the answer before this one is done, or after a moment in any case."""
    held = _turn.acquire(timeout=PATIENCE)
    try:
        yield
    finally:
        if held:
            _turn.release()
