"""Failures of a model with their causes, parts and minutes."""

from __future__ import annotations

import pytest
from helpers.working import works

from kb.base.intervals import mean_interval
from kb.review.failures import review
from kb.review.models import compared


def test_the_median_of_all_minutes_passes_over_jobs_without_any() -> None:
    found = review(works(("a", 10, ""), ("b", 90, ""), ("c", None, ""), ("d", 20, ""), ("e", 30, "")), {})

    assert found.median_minutes == 25
    assert found.failures[0].median_minutes == 25
    assert (found.total_minutes, found.failures[0].total_minutes) == (150, 150)
    assert review(works(("a", None, "")), {}).median_minutes is None


def test_parts_stand_most_used_first_then_by_name_and_a_job_without_a_part_is_none() -> None:
    used = ["", "fan", "battery", "", "fan", "battery", "cable", "", ""]

    found = review(works(*[("", 1, part) for part in used]), {})

    assert found.parts == (("battery", 2), ("fan", 2), ("cable", 1))
    assert found.failures[0].parts == found.parts


def test_minutes_a_machine_are_their_mean_and_not_their_median() -> None:
    """Machines with 10, 20 and 90 minutes in all: mean 40, median 20; one with an untold job is left out."""
    told = works(("a", 4, ""), ("a", 6, ""), ("b", 20, ""), ("c", 90, ""), ("d", 500, ""), ("d", None, ""))

    line = compared(told, [])[0]

    assert line.minutes is not None
    assert line.minutes.value == pytest.approx(40)
    assert line.minutes.interval == mean_interval([10.0, 20.0, 90.0])
