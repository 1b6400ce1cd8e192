"""Minutes on the bench: one job a person, and never more of them than have passed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from helpers.long import LONG
from helpers.places import CORPUS
from helpers.shops import quick_folder
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.bench.front import Bench
from kb.model import Confirmation, Finding

START = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)
OUTCOME = Finding("no-battery/reseat-the-battery-plug", "battery appears")
PLUG = "no-battery/plug"


class Clock:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.minutes = 0.0

    def __call__(self) -> datetime:
        return START + timedelta(minutes=self.minutes)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def bench(tmp_path: Path, clock: Clock) -> Bench:
    return Bench(tmp_path / "shop", stock=CORPUS, clock=clock)


def minutes(bench: Bench, job: str) -> float | None:
    return bench.jobs.standing(job).minutes


def begun(bench: Bench, words: str, by: str = "AW") -> str:
    """A job as a page opens it: with an outcome of its first test."""
    job = bench.jobs.begin(words, "Tern 13")
    bench.jobs.found(job, OUTCOME)
    bench.jobs.take_up(job, by)
    return job


def first_test(bench: Bench) -> float:
    entry = bench.entries.entry("no-battery")
    assert entry is not None
    test = entry.test("reseat-the-battery-plug")
    assert test is not None
    return test.minutes


def test_leaving_a_job_stops_its_clock_and_going_on_starts_it_again(
    bench: Bench, clock: Clock
) -> None:
    job = begun(bench, "no battery")
    before = first_test(bench)
    clock.minutes = 4
    bench.jobs.leave(job, "AW", "a long test runs")
    clock.minutes = 60
    assert minutes(bench, job) == 4 + before

    bench.jobs.take_up(job, "AW")
    clock.minutes = 65

    assert minutes(bench, job) == 9 + before


def test_taking_up_another_job_stops_the_first(bench: Bench, clock: Clock) -> None:
    one = begun(bench, "no battery")
    clock.minutes = 5
    two = begun(bench, "keys dead")
    clock.minutes = 10

    assert (minutes(bench, one), minutes(bench, two)) == (5 + first_test(bench), 5)
    assert bench.jobs.job(one).run_by == frozenset()
    assert bench.jobs.job(two).run_by == {"AW"}


def test_a_colleague_keeps_their_own_job_running(bench: Bench, clock: Clock) -> None:
    one = begun(bench, "no battery", "AW")
    two = begun(bench, "keys dead", "JT")
    clock.minutes = 10

    assert minutes(bench, one) == minutes(bench, two) == 10 + first_test(bench)


def test_a_job_right_after_another_was_closed_counts_no_test_before_it(
    bench: Bench, clock: Clock
) -> None:
    one = begun(bench, "no battery")
    clock.minutes = 9
    bench.jobs.confirm(Confirmation(PLUG, job=one, by="AW"))
    clock.minutes = 10
    two = begun(bench, "keys dead")

    assert minutes(bench, two) == 0


def test_a_job_of_which_nobody_said_anything_counts_from_its_opening(
    bench: Bench, clock: Clock
) -> None:
    job = bench.jobs.begin("no battery", "Tern 13")
    clock.minutes = 12
    assert minutes(bench, job) == 12

    bench.jobs.leave(job, "AW", "a break")
    clock.minutes = 50
    assert minutes(bench, job) == 12


def test_a_night_without_a_word_is_no_bench_time(bench: Bench, clock: Clock) -> None:
    job = begun(bench, "no battery")
    clock.minutes = 15 * 60

    assert minutes(bench, job) is None


STEPS = st.lists(
    st.tuples(st.integers(0, 2), st.integers(0, 3), st.booleans()),
    min_size=2,
    max_size=12,
)


@pytest.mark.slow
@settings(max_examples=1_000 if LONG else 25)
@given(steps=STEPS)
def test_the_jobs_of_one_person_never_sum_to_more_than_the_minutes_that_passed(
    steps: list[tuple[int, int, bool]],
) -> None:
    with quick_folder() as folder:
        clock = Clock()
        bench = Bench(folder, stock=CORPUS, clock=clock)
        jobs: dict[int, str] = {}
        for which, wait, leaves in steps:
            if which not in jobs:
                jobs[which] = bench.jobs.begin(f"no battery {which}", "Tern 13")
            bench.jobs.take_up(jobs[which], "AW")
            clock.minutes += wait
            if leaves:
                bench.jobs.leave(jobs[which], "AW", "left it")
        told = [minutes(bench, job) for job in jobs.values()]
        bench.close()

        assert sum(one or 0.0 for one in told) <= clock.minutes
