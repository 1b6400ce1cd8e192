"""The state of a job out of its records: what was found, what was taken back."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.histories import note_finding

from kb.history import History, kinds
from kb.history.jobs import FailedFix, OpenJob
from kb.history.trouble import NotAccepted
from kb.model import Finding, Job


def test_an_opened_job_is_on_the_bench_with_what_was_typed(history: History) -> None:
    job = history.open_job("Tern 13", "T-07", "no light when plugged in")

    state = history.job_state(job)

    assert (state.model, state.unit, state.words) == (
        "Tern 13",
        "T-07",
        "no light when plugged in",
    )
    assert (state.closed, state.retracted) == (None, "")
    assert history.open_jobs() == (state,)


def test_a_job_is_open_until_it_is_confirmed_and_a_retracted_one_is_neither() -> None:
    begun = OpenJob(job="a")
    closed = replace(begun, closed=Job("a", "Tern 13", "no-light/pack", "2026-11-24"))
    undone = replace(closed, retracted="it was another")
    put_away = replace(begun, retracted="nothing was wrong")
    of_all = [begun, closed, undone, put_away]

    assert [job.is_open for job in of_all] == [True, False, False, False]
    assert [job.confirmed for job in of_all] == [None, closed.closed, None, None]


def test_findings_and_failed_fixes_stand_in_the_order_in_which_they_were_noted(
    history: History,
) -> None:
    job = history.open_job("Tern 13")
    first = note_finding(history, job, Finding("no-light/try-charger", "still dark"))
    fix = history.note(kinds.FAILED_FIX, job, {"fix": "no-light/reseat-jack"})
    second = note_finding(history, job, Finding("no-light/measure-rail", "0 V"))

    state = history.job_state(job)

    assert state.outcomes == (
        Finding("no-light/try-charger", "still dark"),
        Finding("no-light/measure-rail", "0 V"),
    )
    assert [noted.record for noted in state.findings] == [first.id, second.id]
    assert state.failed_fixes == (FailedFix(fix.id, "no-light/reseat-jack"),)


def test_a_finding_taken_back_counts_no_longer_but_stays_on_record(
    history: History,
) -> None:
    job = history.open_job("Tern 13")
    wrong = note_finding(
        history, job, Finding("no-light/try-charger", "light comes on")
    )

    history.take_back(job, wrong.id)

    assert history.job_state(job).findings == ()
    assert [record.kind for record in history.records_since()] == [
        "open",
        "finding",
        "takeback",
    ]


def test_a_failed_fix_can_be_taken_back(history: History) -> None:
    job = history.open_job("Tern 13")
    history.take_back(job, history.note(kinds.FAILED_FIX, job, {"fix": "reseat"}).id)
    assert history.job_state(job).failed_fixes == ()


def test_what_is_not_on_the_job_cannot_be_taken_back(history: History) -> None:
    job, other = history.open_job("Tern 13"), history.open_job("Skua 14")
    elsewhere = note_finding(history, other, Finding("a/b", "dark"))
    once = note_finding(history, job, Finding("a/b", "dark"))
    history.take_back(job, once.id)
    for record in (elsewhere.id, once.id, "nothing"):
        with pytest.raises(NotAccepted, match="load the job again"):
            history.take_back(job, record)
