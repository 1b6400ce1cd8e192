"""The table of jobs, held against the history."""

from __future__ import annotations

import itertools
import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from kb.bench.front import Bench
from kb.index.index import Index
from kb.index.jobs import ClosedJob
from kb.model import Confirmation, Finding, Job


@pytest.mark.parametrize(
    "change",
    [
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
    ],
)
def test_an_index_that_holds_another_job_than_the_history_is_named(
    bench: Bench, change: str
) -> None:
    shown = Finding("no-battery/fit-a-battery-known-to-be-good", "battery appears")
    job = bench.jobs.confirm(
        Confirmation(
            "no-battery/pack", "Tern 13", minutes=12, part="battery", outcomes=(shown,)
        )
    ).job
    assert (bench.health.state().in_step, bench.health.state().problems) == (True, ())
    with sqlite3.connect(bench.folder / "index.db") as index:
        index.execute(change)

    state = bench.health.state()

    assert not state.in_step
    assert [
        problem
        for problem in state.problems
        if f"does not hold job {job} as the history does" in problem
    ]


def test_many_jobs_are_counted_by_as_few_statements_as_one(tmp_path: Path) -> None:
    index = Index(tmp_path / "index.db")
    statements: list[str] = []
    index._connection.set_trace_callback(statements.append)
    counted = []
    for first, many in ((1, 1), (2, 30)):
        with index.changing():
            statements.clear()
            index.jobs.put([_closed(seq) for seq in range(first, first + many)])
            counted.append(
                [
                    one
                    for one in statements
                    if not one.startswith("INSERT OR IGNORE INTO job")
                ]
            )
    held = index._connection.execute("SELECT jobs, units FROM tally").fetchall()
    index.close()

    assert counted[0]
    assert len(counted[0]) == len(counted[1])
    assert held == [(31, 0)]


def test_a_job_is_taken_in_as_quickly_behind_many_as_behind_few(tmp_path: Path) -> None:
    index = Index(tmp_path / "index.db")
    took, steps = [], itertools.count()
    for first in (1, 1_001):
        with index.changing():
            index.jobs.put([_closed(seq) for seq in range(first, first + 999)])
            began = next(steps)
            index._connection.set_progress_handler(lambda: next(steps) < 0, 10)
            index.jobs.put([_closed(first + 999)])
            index._connection.set_progress_handler(None, 0)
            took.append(next(steps) - began)
    index.close()

    assert took[0] > 5
    assert abs(took[0] - took[1]) <= 5


def test_jobs_on_which_the_same_was_shown_are_told_together(tmp_path: Path) -> None:
    index = Index(tmp_path / "index.db")
    shown = (Finding("no-battery/reseat", "no change"),)
    with index.changing():
        alike = [_closed(seq) for seq in range(1, 6)]
        index.jobs.put(
            [
                one._replace(
                    job=replace(one.job, outcomes=shown if one.seq < 5 else ())
                )
                for one in alike
            ]
        )
    told = list(index.jobs.shown_on("no-battery"))
    index.close()

    assert told == [("pack", [["no-battery/reseat", "no change"]], 4)]


def _closed(seq: int) -> ClosedJob:
    job = Job(
        f"job-{seq}", "Tern 13", "no-battery/pack", "2026-11-02T08:00:00Z", words="dead"
    )
    return ClosedJob(seq, job, "dead")


def test_an_index_that_holds_a_job_too_many_is_named(bench: Bench) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))
    second = bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13")).job
    bench.jobs.retract(second, "it was another")
    assert bench.health.state().in_step
    with sqlite3.connect(bench.folder / "index.db") as index:
        index.execute("UPDATE job SET retracted = ''")

    assert any(
        f"does not hold job {second}" in problem
        for problem in bench.health.state().problems
    )
