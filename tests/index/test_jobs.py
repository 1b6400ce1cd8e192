"""The table of jobs, held against the history."""

from __future__ import annotations

import sqlite3

import pytest

from kb.bench.front import Bench
from kb.model import Confirmation, Finding


@pytest.mark.parametrize("change", [
    "UPDATE job SET cause = 'no-battery/plug'",
    "UPDATE job SET entry = 'keys-dead'",
    "UPDATE job SET model = 'Skua 14'",
    "UPDATE job SET minutes = 11.5",
    "UPDATE job SET part = 'keyboard'",
    "UPDATE job SET outcomes = '[]'",
    "UPDATE job SET closed_at = '2026-11-02T08:00:00Z'",
    "UPDATE job SET job = 'another00000'",
    "DELETE FROM job",
    "UPDATE job SET retracted = 'retracted'",
])  # fmt: skip
def test_an_index_that_holds_another_job_than_the_history_is_named(bench: Bench, change: str) -> None:
    shown = Finding("no-battery/fit-a-battery-known-to-be-good", "battery appears")
    job = bench.jobs.confirm(
        Confirmation("no-battery/pack", "Tern 13", minutes=12, part="battery", outcomes=(shown,))
    ).job
    assert (bench.health.state().in_step, bench.health.state().problems) == (True, ())
    with sqlite3.connect(bench.folder / "index.db") as index:
        index.execute(change)

    state = bench.health.state()

    assert not state.in_step
    assert [problem for problem in state.problems if f"does not hold job {job} as the history does" in problem]


def test_an_index_that_holds_a_job_too_many_is_named(bench: Bench) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))
    second = bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13")).job
    bench.jobs.retract(second, "it was another")
    assert bench.health.state().in_step
    with sqlite3.connect(bench.folder / "index.db") as index:
        index.execute("UPDATE job SET retracted = ''")

    assert any(f"does not hold job {second}" in problem for problem in bench.health.state().problems)
