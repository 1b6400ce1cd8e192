"""What every page says and where its small ways lead: the demo, the home screen, an empty find, an undone job."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.demo import is_invented, mark_invented
from kb.model import Finding
from webui.app import create_app

JOB = ("shows no battery although one is fitted", "Tern 13")

pytestmark = pytest.mark.shop("stocked")


def test_every_page_of_a_demo_says_that_it_is_invented_and_no_page_of_a_shop_does(
    bench: Bench, visitor: Visitor
) -> None:
    pages = (
        "/",
        "/library",
        "/review",
        "/machines",
        "/tools",
        "/nowhere",
        "/entry/battery-not-detected",
    )
    assert not any("is invented" in visitor.go(page).text for page in pages)

    mark_invented(bench.folder)

    assert is_invented(bench.folder)
    assert all(
        "every job and machine here is invented" in visitor.go(page).text
        for page in pages
    )


def test_the_pages_can_be_put_on_a_home_screen(bench: Bench, visitor: Visitor) -> None:
    page = visitor.go("/")
    told = create_app(bench).test_client().get("/static/manifest.webmanifest")

    assert 'rel="manifest"' in page.html
    manifest = json.loads(told.data)
    assert (manifest["start_url"], manifest["display"]) == ("/", "standalone")
    assert manifest["icons"][0]["src"] in page.html


def test_a_find_without_a_hit_leads_on_and_a_new_entry_can_be_begun_from_the_library(
    visitor: Visitor,
) -> None:
    page = visitor.go("/library?q=zxqv")

    assert "0 fault pictures found" in page.text
    assert page.link("Look it up at the bench") == "/?q=zxqv"
    assert "zxqv" in visitor.follow("Write a new entry").html


def test_a_job_put_away_by_mistake_is_taken_up_again_with_what_was_found(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin(*JOB)
    step = bench.jobs.standing(job).answer.next_test
    assert step
    bench.jobs.found(job, Finding(f"{step.entry}/{step.name}", step.outcomes[0]))
    visitor.go(f"/job/{job}")
    assert "Put away" in visitor.press("Put away").text

    visitor.press("Take it up again")

    (again,) = bench.jobs.open_jobs()
    assert [found.outcome for found in again.outcomes] == [step.outcomes[0]]


def test_no_page_shows_signs_that_were_read_in_the_wrong_encoding(
    visitor: Visitor,
) -> None:
    templates = Path(create_app.__code__.co_filename).with_name("templates")

    assert [
        path.name
        for path in templates.iterdir()
        if {"Â", "Ã"} & set(path.read_text("utf-8"))
    ] == []
    assert "battery · " in visitor.go("/entry/battery-not-detected").text
