"""Failures of a model with their causes, parts and minutes."""

from __future__ import annotations

import pytest
from helpers.working import BOARD, PACK, PLUG, works

from kb.base.intervals import mean_interval
from kb.review.failures import review
from kb.review.models import compared
from kb.review.sums import failures_of, models_of


def test_the_median_of_all_minutes_passes_over_jobs_without_any() -> None:
    told = works(
        ("a", 10, ""), ("b", 90, ""), ("c", None, ""), ("d", 20, ""), ("e", 30, "")
    )
    found = review(failures_of(told), {})

    assert found.median_minutes == 25
    assert found.failures[0].median_minutes == 25
    assert (found.total_minutes, found.failures[0].total_minutes) == (150, 150)
    assert review(failures_of(works(("a", None, ""))), {}).median_minutes is None


def test_parts_stand_most_used_first_then_by_name_and_a_job_without_a_part_is_none() -> (
    None
):
    used = ["", "fan", "battery", "", "fan", "battery", "cable", "", ""]

    found = review(failures_of(works(*[("", 1, part) for part in used])), {})

    assert found.parts == (("battery", 2), ("fan", 2), ("cable", 1))
    assert found.failures[0].parts == found.parts


def test_causes_stand_most_frequent_first_with_the_machines_that_had_them_and_their_days() -> (
    None
):
    """Twenty machines, of which 4 had the pack, one of them twice: R's `binom` gives .0807 to .4160 for 4 in 20."""
    tags = [f"P7-{number:02}" for number in range(1, 21)]
    told = works(*((tag, 10, "") for tag in (*tags, "P7-01")))
    told.causes[0] = told.causes[3] = told.causes[7] = told.causes[19] = told.causes[
        20
    ] = PACK
    told.causes[5] = told.causes[6] = BOARD

    found = review(failures_of(told), {PACK: "a worn pack"}, "Tern 13")

    assert [
        (one.cause, one.name, one.jobs, one.machines) for one in found.failures
    ] == [
        (PLUG, PLUG, 14, 14),
        (PACK, "a worn pack", 5, 4),
        (BOARD, BOARD, 2, 2),
    ]
    pack = found.failures[1]
    assert (found.machines, found.jobs, found.model) == (20, 21, "Tern 13")
    assert (pack.rate, round(pack.low, 4), round(pack.high, 4)) == (0.2, 0.0807, 0.4160)
    assert (pack.first_seen, pack.last_seen) == (
        "2026-01-01T09:00:00Z",
        "2026-01-21T09:00:00Z",
    )
    assert (pack.quarters, pack.total_minutes) == ((("2026-Q1", 5),), 50)


def test_causes_that_are_as_frequent_stand_by_name() -> None:
    told = works(("a", 1, ""), ("b", 1, ""), ("c", 1, ""))
    told.causes[:] = [PLUG, PACK, BOARD]

    assert [one.cause for one in review(failures_of(told), {}).failures] == sorted(
        [PLUG, PACK, BOARD]
    )


def test_minutes_a_machine_are_their_mean_and_not_their_median() -> None:
    """Machines with 10, 20 and 90 minutes in all: mean 40, median 20; one with an untold job is left out."""
    told = works(
        ("a", 4, ""),
        ("a", 6, ""),
        ("b", 20, ""),
        ("c", 90, ""),
        ("d", 500, ""),
        ("d", None, ""),
    )

    line = compared(models_of(told), [])[0]

    assert line.minutes is not None
    assert line.minutes.value == pytest.approx(40)
    assert line.minutes.interval == mean_interval([10.0, 20.0, 90.0])
