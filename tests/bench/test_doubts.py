"""Doubts about a part whose fix did not help: asked once, on the job, and what each answer teaches."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.donating import flat_floor, flat_job
from helpers.visiting import Visitor

from kb.base.trouble import Refusal
from kb.bench.doubts import in_doubt, settled
from kb.bench.front import Bench
from webui.app import create_app


@pytest.fixture
def floor(tmp_path: Path) -> Iterator[Bench]:
    bench = flat_floor(tmp_path / "shop")
    yield bench
    bench.close()


def failed_job(floor: Bench) -> str:
    """A job on which the donor's battery was fitted and changed nothing."""
    job = flat_job(floor)
    floor.parts.take("P7-03", "battery", "P7-01")
    floor.jobs.did_not_help(job, "no-battery/pack")
    return job


def test_a_part_that_was_not_the_cause_has_fitted_and_nobody_is_asked_again(
    floor: Bench,
) -> None:
    job = failed_job(floor)
    doubt = in_doubt(floor, floor.jobs.job(job))
    assert doubt
    assert (doubt.part, doubt.donor) == ("battery", "P7-03")

    settled(floor, job, "not the cause", token="t" * 30)
    settled(floor, job, "not the cause", token="t" * 30)

    assert [one.shown for one in floor.parts.told().tries["battery"]] == ["worked"]
    assert [one.fix for one in floor.jobs.job(job).failed_fixes] == ["no-battery/pack"]
    assert in_doubt(floor, floor.jobs.job(job)) is None
    with pytest.raises(Refusal, match="in doubt"):
        settled(floor, job, "was dead")


def test_a_dead_part_says_nothing_of_the_cause_so_that_the_fix_counts_as_not_tried(
    floor: Bench,
) -> None:
    job = failed_job(floor)

    settled(floor, job, "was dead", token="t" * 30)

    assert floor.jobs.job(job).failed_fixes == ()
    assert floor.machines.unit("P7-01").to_fit == ()
    assert floor.parts.told().tries == {}
    assert [one.good for one in floor.machines.unit("P7-03").moved] == ["no"]
    assert in_doubt(floor, floor.jobs.job(job)) is None


def test_a_part_that_did_not_fit_goes_to_the_drawer_and_speaks_against_the_fit(
    floor: Bench,
) -> None:
    job = failed_job(floor)

    settled(floor, job, "did not fit", "connector", "t" * 30)

    assert floor.jobs.job(job).failed_fixes == ()
    (tried,) = floor.parts.told().tries["battery"]
    assert (tried.shown, tried.reason) == ("failed", "connector")
    assert [one.origin for one in floor.parts.told().drawer] == ["P7-03"]


def test_nothing_is_asked_where_no_donors_part_was_fitted_before(floor: Bench) -> None:
    job = flat_job(floor)
    assert in_doubt(floor, floor.jobs.job(job)) is None
    floor.jobs.did_not_help(job, "no-battery/pack")
    assert in_doubt(floor, floor.jobs.job(job)) is None
    # fetched after the fix was tried: it is still to be fitted
    floor.parts.take("P7-03", "battery", "P7-01")
    assert in_doubt(floor, floor.jobs.job(job)) is None


def test_the_jobs_own_page_asks_and_one_tap_answers(floor: Bench) -> None:
    job = flat_job(floor)
    visitor = Visitor(create_app(floor))
    visitor.go(f"/job/{job}")
    visitor.press("Taken from")
    page = visitor.press("Changed nothing")
    assert "The battery from P7-03 did not help. What was it?" in page.text

    page = visitor.press("It was dead")

    assert page.status == 200
    assert "What was it?" not in page.text
    assert [one.good for one in floor.machines.unit("P7-03").moved] == ["no"]
    assert floor.jobs.job(job).failed_fixes == ()
