"""The page of a job: what was tested, what it needs, its clock."""

from __future__ import annotations

from helpers.floors import came_in
from helpers.visiting import Visitor

from kb.bench.front import Bench


def test_the_clock_of_a_job_is_stopped_and_started_on_its_page(bench: Bench, visitor: Visitor) -> None:
    came_in(bench)
    visitor.go("/u/P7-001")
    visitor.press("Open a job")
    (job,) = bench.machines.unit("P7-001").open_jobs

    page = visitor.press("A long test runs")
    assert "the clock stands: a long test runs" in page.text
    assert bench.jobs.job(job.job).run_by == frozenset()

    assert "the clock stands" not in visitor.press("Go on with it").text
    visitor.go("/u/P7-001")
    visitor.press("It waits for this", part="battery")
    assert bench.jobs.job(job.job).run_by == frozenset()
