"""Turns: one answer after the other, but nobody waits for long."""

from __future__ import annotations

import threading

import pytest

from webui.serving import turns
from webui.serving.turns import turn


def test_whoever_comes_second_waits_for_a_moment_and_goes_on_in_any_case(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(turns, "PATIENCE", 0.01)
    done = threading.Event()

    def second() -> None:
        with turn():
            done.set()

    with turn():
        waiting = threading.Thread(target=second)
        waiting.start()
        assert done.wait(5)
        waiting.join()


def test_a_turn_is_given_back_after_a_failure(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(ValueError, match="failed"), turn():
        raise ValueError("failed")

    assert not turns._turn.locked()
