"""Onward with a machine: each state leads to the step, the line or the part that comes next, as its pages have it."""

from __future__ import annotations

from helpers.floors import came_in

from kb.bench.front import Bench
from kb.bench.onward import Onward, onward

TAG = "P7-001"


def of(bench: Bench, tag: str = TAG) -> Onward | None:
    return onward(bench, bench.machines.machine(tag))


def test_an_open_job_leads_to_the_step_that_its_page_shows_and_to_what_is_said_before_it(
    bench: Bench,
) -> None:
    came_in(bench)
    job = bench.jobs.begin("battery absent in setup", "Tern 13", TAG)
    answer = bench.jobs.standing(job).answer
    step = answer.next_step

    assert step is not None
    assert step.cautions
    assert of(bench) == Onward(
        what=step.title,
        minutes=step.minutes,
        job=job,
        command=("guide", "--job", job),
        before=(*answer.at_once, *step.cautions),
    )


def test_a_job_whose_words_fit_nothing_has_no_step_until_something_was_noted_as_on_its_page(
    bench: Bench,
) -> None:
    came_in(bench)
    job = bench.jobs.begin("batteries missing", "Tern 13", TAG)

    found = of(bench)
    assert found == Onward(
        what="Go on with its open job.", job=job, command=("guide", "--job", job)
    )

    step = bench.jobs.standing(job).answer.next_step
    assert step is not None
    bench.jobs.did_not_help(job, f"{step.entry}/{step.name}")
    begun = of(bench)
    assert begun is not None
    assert begun.minutes is not None


def test_a_part_that_came_for_it_is_fitted_before_any_further_test(
    bench: Bench,
) -> None:
    came_in(bench)
    came_in(bench, "P7-002")
    job = bench.jobs.begin("battery absent in setup", "Tern 13", TAG)
    bench.machines.want(TAG, "battery", job)
    assert of(bench) == Onward(
        what="Get the battery; it waits for that.",
        command=("parts", "battery", "--for", TAG),
    )

    bench.machines.give_up("P7-002", "lid broken")
    bench.parts.take("P7-002", "battery", TAG)
    found = of(bench)

    assert found == Onward(
        what="Fit the battery that came for it.",
        job=job,
        command=("guide", "--job", job),
    )


def test_a_complaint_leads_to_the_guide_with_its_own_words(bench: Bench) -> None:
    came_in(bench)
    came_in(bench, "P7-002", model="")

    found, unread = of(bench), of(bench, "P7-002")

    assert found is not None
    assert unread is not None
    assert found.command == ("guide", "no battery", "--model", "Tern 13", "--unit", TAG)
    assert unread.command == ("guide", "no battery", "--unit", "P7-002")


def test_a_machine_without_complaint_leads_to_the_line_that_its_check_out_has_next(
    bench: Bench,
) -> None:
    came_in(bench, words="")
    todo = bench.checkout.of(TAG).next_line

    found = of(bench)

    assert todo is not None
    assert found is not None
    assert (found.line, found.what, found.minutes) == (
        todo.line.name,
        todo.line.text,
        todo.line.minutes,
    )
    assert found.command == ("checkout", TAG), (
        "nobody is handed the answer that it was good"
    )


def test_what_failed_on_the_check_out_is_looked_for_by_its_name_where_nobody_complained(
    bench: Bench,
) -> None:
    line = next(
        one.name
        for one in bench.shop.customs.check_list().lines
        if "-" in one.name and not one.work
    )
    for tag, words in ((TAG, ""), ("P7-002", "no battery")):
        came_in(bench, tag, words=words)
        bench.checkout.bad(tag, line)
        bench.jobs.retract(bench.machines.open_jobs(tag)[0].job, "opened by a slip")

    silent, told = of(bench), of(bench, "P7-002")

    assert silent is not None
    assert told is not None
    assert silent.command[:2] == ("guide", line.replace("-", " "))
    assert told.command[:2] == ("guide", "no battery")


def test_a_donor_and_a_machine_that_is_gone_lead_nowhere(bench: Bench) -> None:
    came_in(bench)
    bench.machines.give_up(TAG, "lid broken")
    assert of(bench) is None

    bench.machines.let_go(TAG, "waste")
    assert of(bench) is None


def test_what_cannot_wait_is_said_before_a_fault_is_looked_for(gated: Bench) -> None:
    came_in(gated, words="buzzes in the corner")

    found = of(gated)

    assert found is not None
    assert found.before == ("Pull the charger at the wall.", "Do not touch the case.")
