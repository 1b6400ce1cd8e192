"""Rows of records, found by an index and not by reading all."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from helpers.histories import NOON

from kb.history import History, rows
from kb.model import Job


def test_finding_the_jobs_on_the_bench_takes_twice_as_long_in_a_history_twice_as_long(
    history: History,
) -> None:
    """Counted in steps of SQLite's machine, which are the same on every computer."""
    took, steps = [], itertools.count()
    for _ in range(2):
        with history.together():
            for number in range(300):
                job = history.open_job("Tern 13")
                if number % 2:
                    history.close_job(replace(NOON, job=job))
                else:
                    history.retract(job, "another machine")
        began = next(steps)
        history._ledger._connection.set_progress_handler(lambda: next(steps) < 0, 10)
        assert history.open_jobs() == ()
        history._ledger._connection.set_progress_handler(None, 0)
        took.append(next(steps) - began)

    assert took[0] > 100
    assert took[1] < 3 * took[0]


def test_the_jobs_closed_here_last_take_no_longer_behind_a_longer_history_of_others(
    history: History, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rows, "LATE", 100)
    history.close_job(NOON)
    took = []
    for of_others in range(2):
        _bring_in(history, 200, of_others)
        took.append(_steps_to_the_last_closed(history))
    last = history.close_job(NOON).job

    assert took[0] > 20
    assert abs(took[0] - took[1]) <= 2
    assert [job.job for job in history.last_closed(5)] == [last]


def _bring_in(history: History, jobs: int, turn: int) -> None:
    with history.together():
        for number in range(jobs):
            history.adopt(
                Job(
                    f"x{turn}-{number}",
                    "Skua 14",
                    "a/b",
                    "2026-11-24T12:00:00Z",
                    shop="elsewhere",
                )
            )


def _steps_to_the_last_closed(history: History) -> int:
    steps = itertools.count()
    history._ledger._connection.set_progress_handler(lambda: next(steps) < 0, 10)
    assert history.last_closed(5) == ()
    history._ledger._connection.set_progress_handler(None, 0)
    return next(steps)
