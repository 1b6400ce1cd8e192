"""The sums in the index beside the jobs they are the sums of: any that is wrong is named by the check."""

from __future__ import annotations

import sqlite3

import pytest

from kb.bench.front import Bench
from kb.model import Confirmation


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("tally", "UPDATE tally SET jobs = jobs + 1"),
        ("tally", "UPDATE tally SET units = units - 1"),
        ("tally", "DELETE FROM tally"),
        ("said", "UPDATE said SET jobs = 7"),
        ("said", "INSERT INTO said VALUES ('never said', 'no-battery', 1, 720720)"),
        ("spoken_mass", "UPDATE spoken_mass SET units = units + 1 WHERE view = 's'"),
        ("spoken_term", "UPDATE spoken_term SET entry = 'dim'"),
        ("word", "UPDATE word SET said = said + 1 WHERE word = 'glimmer'"),
        ("pooling", "UPDATE about SET value = '[10.0, []]' WHERE key = 'pooling'"),
    ],
)
def test_sums_that_are_not_those_of_the_jobs_are_named_though_every_job_is_held(
    bench: Bench, table: str, change: str
) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13", words="glimmer gone"))
    bench.jobs.confirm(Confirmation("no-battery/plug", "Skua 14", words="no glimmer"))
    assert bench.health.state().problems == ()
    with sqlite3.connect(bench.folder / "index.db") as index:
        assert index.execute(change).rowcount

    state = bench.health.state()

    assert not state.in_step
    assert [
        problem
        for problem in state.problems
        if "the sums of its own jobs" in problem and table in problem
    ]
