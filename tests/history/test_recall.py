"""Records and jobs called up again, by the first characters of an id too."""

from __future__ import annotations

import pytest
from helpers.histories import NOON

from kb.history import History
from kb.history.trouble import UnknownJob
from kb.model import Job


def test_the_jobs_closed_last_are_this_shops_own_latest_first(history: History) -> None:
    first, second, third = (history.close_job(NOON).job for _ in range(3))
    history.adopt(
        Job(
            "x1",
            "Skua 14",
            "no-light/dc-jack",
            "2026-11-24T12:00:00Z",
            shop="elsewhere",
        )
    )
    history.retract(second, "wrong machine")

    assert [job.job for job in history.last_closed(5)] == [third, first]
    assert [job.job for job in history.last_closed(1)] == [third]


def test_a_job_is_retracted_by_the_first_characters_of_its_id(history: History) -> None:
    job = history.close_job(NOON).job
    assert (
        history.retract(f"  {job[:11].upper()} ", "typed on the wrong line").job == job
    )


def test_an_id_that_begins_another_one_still_names_its_own_job(
    history: History,
) -> None:
    for job in ("tern", "tern-2"):
        history.adopt(Job(job, "Tern 13", "a/b", "2026-11-24T12:00:00Z"))
    assert history.full_id("tern") == "tern"
    assert history.full_id("tern-") == "tern-2"


def test_a_percent_sign_in_an_id_stands_for_itself(history: History) -> None:
    history.close_job(NOON)
    with pytest.raises(UnknownJob):
        history.full_id("%")
