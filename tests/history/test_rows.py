"""Rows of records, found by an index and not by reading all."""

from __future__ import annotations

import itertools
from dataclasses import replace

from helpers.histories import NOON

from kb.history import History


def test_finding_the_jobs_on_the_bench_takes_twice_as_long_in_a_history_twice_as_long(history: History) -> None:
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
