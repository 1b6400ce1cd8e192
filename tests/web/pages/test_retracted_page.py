"""The page of what counts no longer, and the way back from a wrong fix."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from helpers.pressing import (
    PLUG,
    WORDS,
    edit,
    jobs,
    press_outcome,
    remove_the_cause,
    search,
)
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.model import Confirmation, Job

pytestmark = pytest.mark.shop("stocked")


def test_a_wrong_fix_is_found_again_later_and_retracted_with_a_reason(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/confirm?cause={PLUG}&q=no+battery&model=Tern+13")
    job = visitor.press("Save").text.split("Job ")[1].split()[0]
    visitor.go("/")

    visitor.follow("no battery")
    page = visitor.press("Count it no longer", why="it was the cable")

    assert bench.jobs.job(job).retracted == "it was the cable"
    assert "This no longer counts: it was the cable" in page.text
    assert "Saved here last" not in visitor.go("/").text


def test_a_wrong_fix_that_somebody_else_saved_is_found_and_retracted(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.confirm(Confirmation(PLUG, "Skua 14", words="no battery")).job
    visitor.go("/")

    visitor.follow("no battery")
    visitor.press("Count it no longer", why="it was the cable")

    assert bench.jobs.job(job).retracted == "it was the cable"
    assert "Saved here last" not in visitor.go("/").text


def test_undo_retracts_the_confirmation_at_once(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/confirm?cause={PLUG}&model=Tern+13&q={WORDS}")
    visitor.press("Save")

    page = visitor.press("Undo")

    assert "This no longer counts: undone at once" in page.text
    assert jobs(bench) == []
    assert bench.asking.models() == []


def test_an_undone_job_can_be_taken_up_again_with_its_findings(
    bench: Bench, visitor: Visitor
) -> None:
    search(visitor, model="Tern 13")
    outcome = press_outcome(visitor)
    visitor.follow("It was this")
    visitor.press("Save")
    visitor.press("Undo")

    page = visitor.press("Take it up again")

    assert f"→ {outcome}" in page.text
    (job,) = bench.jobs.open_jobs()
    assert (job.words, job.model) == (WORDS, "Tern 13")


# A cause that its entry does not list, or no longer


def rename_the_cause(text: str) -> str:
    for before, after in (("**", "**"), (": ", "\n"), ("not ", "\n")):
        text = text.replace(f"{before}contact{after}", f"{before}loose-plug{after}")
    return text


@pytest.mark.parametrize("change", [rename_the_cause, remove_the_cause])
def test_a_saved_job_whose_cause_is_gone_is_shown_by_its_old_name_and_undone(
    bench: Bench, visitor: Visitor, change: Callable[[str], str]
) -> None:
    job = bench.jobs.confirm(Confirmation(PLUG, "Tern 13", words="no battery")).job
    edit(bench, change)
    assert bench.entries.cause_texts([PLUG])[PLUG] == PLUG

    page = visitor.go(f"/job/{job}")

    assert page.status == 200
    assert PLUG in page.text
    assert f"no entry here lists {PLUG}" in page.text
    page = visitor.press("Undo")
    assert (page.status, bench.jobs.job(job).retracted) == (200, "undone at once")
    assert "This no longer counts" in page.text


def test_a_job_from_elsewhere_under_a_cause_that_no_entry_lists_is_shown_and_undone(
    bench: Bench, visitor: Visitor
) -> None:
    for job, cause in (
        ("x1", "battery-not-detected/goblins"),
        ("x2", "no-such-entry/goblins"),
    ):
        bench.history().adopt(
            Job(job, "Skua 14", cause, "2026-11-24T12:00:00Z", shop="elsewhere")
        )

        page = visitor.go(f"/job/{job}")

        assert (page.status, cause in page.text) == (200, True)
        assert visitor.press("Count it no longer", why="no such cause").status == 200
        assert bench.jobs.job(job).retracted == "no such cause"


def test_what_counts_no_longer_is_listed_with_its_reason_latest_first(
    bench: Bench, visitor: Visitor
) -> None:
    assert "Nothing was retracted" in visitor.go("/retracted").text
    saved = bench.jobs.confirm(
        Confirmation("battery-not-detected/contact", "Tern 13")
    ).job
    bench.jobs.retract(saved, "wrong machine")
    bench.jobs.retract(bench.jobs.begin("hums", "Skua 14"), "owner wanted it back")

    visitor.go("/")
    page = visitor.follow("What counts no longer")

    assert page.text.index("owner wanted it back") < page.text.index("wrong machine")
    assert f"/job/{saved}" in [to for to, _ in page.links]
