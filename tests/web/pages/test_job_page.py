"""The page of a job: what was tested, what could not be, and what comes next."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from flask import Flask
from helpers.photographs import photo
from helpers.pressing import (
    PLUG,
    WORDS,
    edit,
    plain,
    press_outcome,
    remove_the_cause,
    search,
)
from helpers.visiting import HOME, Visitor
from werkzeug.test import TestResponse

from kb.bench.front import Bench
from kb.history import kinds
from kb.model import Confirmation, Job
from webui.app import create_app

pytestmark = pytest.mark.shop("stocked")


# A job


def test_pressing_an_outcome_opens_a_job_that_any_browser_sees(
    app: Flask, bench: Bench, visitor: Visitor
) -> None:
    search(visitor, model="Tern 13", unit="T-07")

    outcome = press_outcome(visitor)

    (job,) = bench.jobs.open_jobs()
    assert (job.words, job.model, job.unit) == (WORDS, "Tern 13", "T-07")
    assert [plain(finding.outcome) for finding in job.outcomes] == [outcome]
    assert f"→ {outcome}" in visitor.page.text
    other = Visitor(app)
    assert f"→ {outcome}" in other.follow(WORDS).text


def test_an_outcome_without_a_model_is_noted_all_the_same(
    bench: Bench, visitor: Visitor
) -> None:
    search(visitor)

    press_outcome(visitor)

    assert visitor.page.status == 200
    assert "model not said" in visitor.page.text
    assert bench.jobs.open_jobs()[0].model == ""


def test_a_finding_can_be_taken_back(bench: Bench, visitor: Visitor) -> None:
    search(visitor, model="Tern 13")
    outcome = press_outcome(visitor)

    page = visitor.press("Take back")

    assert f"→ {outcome}" not in page.text
    assert bench.jobs.open_jobs()[0].outcomes == ()


def test_a_test_that_could_not_be_done_gives_way_to_another_and_can_come_back(
    visitor: Visitor,
) -> None:
    first = re.search(
        'name="step" value="([^"]+)"', search(visitor, model="Tern 13").html
    )
    assert first

    page = visitor.press("Could not do it")
    assert "could not be done" in page.text
    assert f'name="step" value="{first[1]}"' not in page.html

    page = visitor.press("Back on the list")
    assert "could not be done" not in page.text


def test_a_fix_that_changed_nothing_is_marked_on_its_cause(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13")
    bench.jobs.did_not_help(job, PLUG)

    page = visitor.go(f"/job/{job}")

    assert "Fix changed nothing: battery plug not fully seated" in page.text
    assert "tried, did not help" in page.text


def test_the_clock_of_a_job_counts_its_first_test_too(
    bench: Bench, visitor: Visitor
) -> None:
    search(visitor, model="Tern 13")
    press_outcome(visitor)
    (job,) = bench.jobs.open_jobs()
    slug, _, name = job.outcomes[0].test.partition("/")
    entry = bench.entries.entry(slug)
    test = entry.test(name) if entry else None

    assert test
    assert f"{test.minutes:g} min on the clock" in visitor.page.text


def test_the_same_outcome_from_two_tabs_is_noted_once(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13")
    first, second = visitor.go(f"/job/{job}"), visitor.go(f"/job/{job}")
    outcome = next(
        shown
        for form in first.forms
        for name, _, shown in form.buttons
        if name == "outcome"
    )

    visitor.press(outcome, first)
    visitor.press(outcome, second)

    assert len(bench.jobs.job(job).findings) == 1


def test_a_tap_on_a_job_that_is_closed_meanwhile_leads_to_what_was_saved(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13")
    page = visitor.go(f"/job/{job}")
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", job=job))

    outcome = next(
        shown
        for form in page.forms
        for name, _, shown in form.buttons
        if name == "outcome"
    )

    assert visitor.press(outcome, page).status == 409
    assert "Saved" in visitor.follow("See what was saved").text


def test_a_job_can_be_put_away_without_a_cause(bench: Bench, visitor: Visitor) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13")
    visitor.go(f"/job/{job}")

    page = visitor.press("Put away")

    assert "put away without a cause" in page.text
    assert bench.jobs.open_jobs() == ()


def test_an_open_job_whose_test_and_fix_are_no_longer_listed_is_shown_by_their_names(
    bench: Bench, visitor: Visitor
) -> None:
    search(visitor, model="Tern 13")
    press_outcome(visitor)
    (job,) = bench.jobs.open_jobs()
    bench.jobs.did_not_help(job.job, PLUG)
    bench.jobs.could_not_do(job.job, "battery-not-detected/some-test")
    edit(bench, remove_the_cause)

    for address in (f"/job/{job.job}", "/", "/review"):
        assert visitor.go(address).status == 200
    assert f"Fix changed nothing: {PLUG}" in visitor.go(f"/job/{job.job}").text


def test_a_closed_job_takes_no_more_findings(bench: Bench, visitor: Visitor) -> None:
    search(visitor, model="Tern 13")
    press_outcome(visitor)
    page = visitor.page
    (job,) = bench.jobs.open_jobs()
    bench.jobs.confirm(Confirmation(PLUG, job=job.job))

    page = visitor.press("Take back", page)

    assert page.status == 409
    assert "is closed already as battery-not-detected/contact" in page.text


def test_the_job_of_another_shop_says_so_and_leads_to_no_machine_of_ours(
    bench: Bench, visitor: Visitor
) -> None:
    bench.machines.write(kinds.UNIT_IN, {"tag": "P7-1", "model": "Skua 14"})
    for tag in ("P7-1", "Q3-9"):
        at = "2026-06-30T22:30:00Z"
        bench.history().adopt(
            Job(
                tag, model="Tern 13", cause=PLUG, closed_at=at, shop="another", unit=tag
            )
        )

    pages = [visitor.go(f"/job/{job}") for job in ("P7-1", "Q3-9")]

    assert [page.status for page in pages] == [200, 200]
    assert all(
        "of another shop, as are its tags" in page.text and "/u/" not in page.html
        for page in pages
    )
    assert "Tern 13" not in visitor.go("/u/P7-1").text


# Pictures


def sent_to(
    visitor: Visitor, job: str, sent: bytes, caption: str = "the burnt corner"
) -> TestResponse:
    form = next(
        form
        for form in visitor.go(f"/job/{job}").forms
        if form.action == f"/job/{job}/picture"
    )
    data = {
        "token": form.fields["token"],
        "caption": caption,
        "picture": (BytesIO(sent), "a.jpg"),
    }
    return visitor.client.post(
        form.action, data=data, base_url=HOME, headers={"Origin": HOME}
    )


def test_a_picture_is_shown_small_on_its_job_its_saved_page_and_its_machine_and_taken_back(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13", "P7-012")
    refused = sent_to(visitor, job, b"no picture")
    assert (refused.status_code, "The picture was not taken" in refused.text) == (
        400,
        True,
    )
    assert "send it as JPEG" in refused.text
    large = photo(kind="PNG") + b"\0" * 300_000
    assert sent_to(visitor, job, large).headers["Location"] == f"/job/{job}#taken-here"

    pages = [visitor.go(address).html for address in (f"/job/{job}", "/u/P7-012")]
    shown = [
        re.findall(
            r'<img src="(/entry/pictures/job-[^"]+\?small)"[^>]*alt="the burnt corner"',
            page,
        )
        for page in pages
    ]
    small = shown[0][0]
    assert shown == [[small], [small]]
    assert visitor.client.get(small, base_url=HOME).mimetype == "image/jpeg"
    bench.jobs.confirm(
        Confirmation("battery-not-detected/pack", job=job), untested=True
    )
    assert small in visitor.go(f"/job/{job}").html
    assert sent_to(visitor, job, photo(colour="blue"), "after").status_code == 303

    visitor.go(f"/job/{job}")
    visitor.press("Take back")
    assert small not in visitor.go(f"/job/{job}").html
    assert 'alt="after"' in visitor.page.html
    assert 'alt="after"' in visitor.go("/u/P7-012").html


def test_the_danger_of_a_machines_other_job_stands_above_the_work_on_this_one(
    gated: Bench,
) -> None:
    gated.jobs.begin("case stings on the charger", "Tern 13", "P7-001")
    harmless = gated.jobs.begin("no battery found", "Tern 13", "P7-001")

    page = Visitor(create_app(gated)).go(f"/job/{harmless}").text

    assert page.index("Pull the charger at the wall.") < page.index("Next")
