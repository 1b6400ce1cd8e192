"""The invented shop: repeatable, made of what the entries hold, and its hidden habits can be discovered."""

from __future__ import annotations

import re
import time
from collections import Counter
from dataclasses import replace
from datetime import datetime

import pytest
from helpers.shops import quick_folder

from kb.demo import jobs as demo
from kb.demo.scenario import shipped_scenario
from kb.history import History
from kb.history.ids import ALPHABET, LENGTH
from kb.history.verification import verify
from kb.library.customs import shipped_customs
from kb.model import Cause, Entry, Job


@pytest.mark.slow
def test_the_same_seed_gives_the_same_jobs(
    entries: list[Entry], jobs: tuple[Job, ...]
) -> None:
    assert demo.invented_jobs(entries) == jobs
    assert demo.invented_jobs(entries[::-1]) == jobs


def test_another_seed_gives_other_jobs(
    entries: list[Entry], jobs: tuple[Job, ...]
) -> None:
    others = demo.invented_jobs(entries, seed=demo.SEED + 1)

    assert not {job.job for job in others} & {job.job for job in jobs}


def test_a_sheet_with_more_causes_and_tests_changes_the_jobs_of_no_other(
    entries: list[Entry], jobs: tuple[Job, ...]
) -> None:
    first = max(entries, key=lambda entry: sum(job.entry == entry.slug for job in jobs))
    more = replace(
        first,
        causes=(*first.causes, Cause("gremlin", "often", "a gremlin")),
        tests=first.tests * 2,
    )

    changed = demo.invented_jobs(
        [more, *(entry for entry in entries if entry is not first)]
    )

    def of_others(some: tuple[Job, ...]) -> list[Job]:
        """Without the donors: each gives a part once, so that one job may find the part gone to another."""
        return [replace(job, donor="") for job in some if job.entry != first.slug]

    assert of_others(changed) == of_others(jobs)
    assert any(job.cause == f"{first.slug}/gremlin" for job in changed)


def test_there_are_2500_jobs_on_about_1900_machines_of_12_models(
    jobs: tuple[Job, ...],
) -> None:
    assert len(jobs) == len({job.job for job in jobs}) == 2500
    assert 1800 <= len({job.unit for job in jobs}) <= 2000
    assert {job.model for job in jobs} == set(shipped_scenario().models)
    assert len(shipped_scenario().models) == 12


def test_a_tag_belongs_to_one_model(jobs: tuple[Job, ...]) -> None:
    models = {(job.unit, job.model) for job in jobs}

    assert len(models) == len({unit for unit, _ in models})
    assert all(re.fullmatch(r"[A-Z]\d\d-\d{4}", unit) for unit, _ in models)


def test_every_cause_test_and_outcome_stands_in_an_entry(
    entries: list[Entry], jobs: tuple[Job, ...]
) -> None:
    causes = {
        f"{entry.slug}/{cause.slug}" for entry in entries for cause in entry.causes
    }
    outcomes = {
        (f"{entry.slug}/{test.slug}", outcome.text)
        for entry in entries
        for test in entry.tests
        for outcome in test.outcomes
    }

    assert {job.cause for job in jobs} <= causes
    assert {
        (found.test, found.outcome) for job in jobs for found in job.outcomes
    } <= outcomes
    assert {1, 2, 3} == {len(job.outcomes) for job in jobs}
    assert all(
        found.test.startswith(f"{job.entry}/") for job in jobs for found in job.outcomes
    )


def test_every_entry_comes_up_and_some_much_more_than_others(
    entries: list[Entry], jobs: tuple[Job, ...]
) -> None:
    counts = Counter(job.entry for job in jobs)

    assert set(counts) == {entry.slug for entry in entries}
    assert min(counts.values()) >= demo.LEAST_JOBS
    assert max(counts.values()) > 5 * sorted(counts.values())[len(counts) // 2]


def test_parts_are_those_of_the_fix_and_donors_are_other_machines(
    entries: list[Entry], jobs: tuple[Job, ...]
) -> None:
    by_slug = {entry.slug: entry for entry in entries}
    units = {job.unit for job in jobs}

    for job in jobs:
        fix = by_slug[job.entry].fix_for(job.cause.partition("/")[2])
        assert fix is not None
        assert job.part in (fix.parts or ("",))
        assert not job.part or job.part in shipped_customs().trade().parts
    donors = [job.donor for job in jobs if job.donor]
    assert len(donors) > 200
    assert not units & set(donors)
    assert not [
        job
        for job in jobs
        if job.donor and (not job.part or job.part in shipped_scenario().consumables)
    ]


def test_jobs_are_closed_in_working_hours_within_the_three_years_oldest_first(
    jobs: tuple[Job, ...],
) -> None:
    closed = [datetime.fromisoformat(job.closed_at) for job in jobs]

    assert closed == sorted(closed)
    assert closed[0].date() >= demo.FIRST_DAY
    assert closed[-1].date() <= demo.LAST_DAY
    assert all(
        when.weekday() < 6 and (8, 30) <= (when.hour, when.minute) <= (17, 30)
        for when in closed
    )


def test_minutes_lie_about_those_of_fix_and_tests(
    entries: list[Entry], jobs: tuple[Job, ...]
) -> None:
    by_slug = {entry.slug: entry for entry in entries}
    above = 0
    for job in jobs:
        entry = by_slug[job.entry]
        fix = entry.fix_for(job.cause.partition("/")[2])
        tests = [
            test
            for found in job.outcomes
            if (test := entry.test(found.test.partition("/")[2]))
        ]
        usual = sum(test.minutes for test in tests) + (fix.minutes if fix else 0)
        inside = any(one.cover_off for one in tests) or (
            fix is not None and fix.cover_off
        )
        assert job.minutes is not None
        assert 1 <= job.minutes < 6 * (usual + 5)
        above += job.minutes > usual + 5 * inside

    assert 0.4 < above / len(jobs) < 0.6


def test_every_job_says_that_it_is_invented_and_has_an_id_of_the_usual_kind(
    jobs: tuple[Job, ...],
) -> None:
    assert all("invented" in job.shop and "invented" in job.note for job in jobs)
    assert all(len(job.job) == LENGTH and set(job.job) <= set(ALPHABET) for job in jobs)


def test_filling_is_quick_sound_and_done_once(jobs: tuple[Job, ...]) -> None:
    with quick_folder() as folder, History.open(folder / "history.db") as history:
        began = time.process_time()
        written = demo.fill(history, jobs)
        took = time.process_time() - began

        assert written == len(jobs)
        assert took < 3.0
        assert list(history.closed_jobs()) == list(jobs)
        assert demo.fill(history, jobs) == 0
        assert history.tip().count == len(jobs)
        assert verify(history.path).ok


def test_a_history_with_a_real_job_is_left_alone(jobs: tuple[Job, ...]) -> None:
    with quick_folder() as folder, History.open(folder / "history.db") as history:
        history.open_job("Tern 13")

        assert demo.fill(history, jobs) == 0
        assert list(history.closed_jobs()) == []
