"""One machine is one job and one fix is one count, whatever is pressed after going back, and by whomever."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask
from helpers.visiting import Page, Visitor

from kb.bench.front import Bench
from kb.model import Confirmation

WORDS = "shows no battery although one is fitted"
SEARCH = f"/?q={WORDS}&model=Tern+13"
PLUG = "battery-not-detected/contact"
SLIP = f"/confirm?cause={PLUG}&q={WORDS}&model=Tern+13"


class Wristwatch:
    """A clock that is set forward by hand."""

    def __init__(self) -> None:
        self.now = datetime.now(UTC)

    def __call__(self) -> datetime:
        return self.now


@pytest.fixture
def watch() -> Wristwatch:
    return Wristwatch()


@pytest.fixture
def bench(stocked_folder: Path, watch: Wristwatch) -> Iterator[Bench]:
    made = Bench(stocked_folder, clock=watch)
    yield made
    made.close()


def outcomes(page: Page) -> list[str]:
    return [
        text
        for form in page.forms
        for name, _, text in form.buttons
        if name == "outcome"
    ]


def press_outcome(visitor: Visitor, number: int = 0) -> Page:
    return visitor.press(outcomes(visitor.page)[number])


def saved(bench: Bench) -> int:
    return len(list(bench.history().closed_jobs()))


def test_an_outcome_after_going_back_to_the_search_leads_to_the_job_that_is_open(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(SEARCH)
    press_outcome(visitor)
    visitor.go(SEARCH)

    page = press_outcome(visitor, 1)

    assert page.status == 409
    assert "was opened just now" in page.text
    assert "1 thing noted" in page.text
    visitor.press("Note it on this job")
    (job,) = bench.jobs.open_jobs()
    assert len(job.findings) == 2


def test_another_machine_with_the_same_words_gets_its_own_job(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(SEARCH)
    press_outcome(visitor)
    visitor.go(SEARCH)
    press_outcome(visitor)

    visitor.press("It is another machine")

    assert [len(job.findings) for job in bench.jobs.open_jobs()] == [1, 1]


def test_nobody_is_asked_for_another_model_other_words_a_tag_or_a_job_of_long_ago(
    bench: Bench, visitor: Visitor, watch: Wristwatch
) -> None:
    bench.jobs.begin(WORDS, "Tern 13")
    others = (
        f"/?q={WORDS}&model=Skua+14",
        "/?q=battery+is+not+seen&model=Tern+13",
        f"{SEARCH}&unit=T-9",
    )

    for number, address in enumerate(others, start=2):
        visitor.go(address)
        assert press_outcome(visitor).status == 200
        assert len(bench.jobs.open_jobs()) == number
    watch.now += timedelta(minutes=16)
    visitor.go(SEARCH)
    assert press_outcome(visitor).status == 200
    assert len(bench.jobs.open_jobs()) == 5


def test_a_fix_saved_again_after_going_back_is_asked_about_before_it_counts_twice(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(SLIP)
    visitor.press("Save")
    visitor.go(SLIP)

    page = visitor.press("Save")

    assert page.status == 409
    assert "not counted again yet" in page.text
    assert saved(bench) == 1
    visitor.press("It is another machine: count it too")
    assert saved(bench) == 2


def test_another_tag_another_cause_and_another_hour_are_counted_without_asking(
    bench: Bench, visitor: Visitor, watch: Wristwatch
) -> None:
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="T-1", words=WORDS))
    for address in (f"{SLIP}&unit=T-2", SLIP.replace("contact", "pack") + "&unit=T-1"):
        visitor.go(address)
        assert "Saved" in visitor.press("Save").text

    watch.now += timedelta(minutes=16)
    visitor.go(f"{SLIP}&unit=t-1")
    assert "Saved" in visitor.press("Save").text
    assert saved(bench) == 4


def test_two_browsers_that_answer_one_test_differently_are_told_so(
    app: Flask, bench: Bench
) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13")
    one, other = Visitor(app), Visitor(app)
    for visitor in (one, other):
        visitor.go(f"/job/{job}")

    assert "Two answers to one test" not in press_outcome(one).text
    page = press_outcome(other, 1)

    assert "Two answers to one test" in page.text
    assert page.html.count('class="disputed"') == 2
    assert "Two answers to one test" not in other.press("Take back").text


def test_a_saved_job_names_its_tests_by_their_titles(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(SEARCH)
    press_outcome(visitor)
    (job,) = bench.jobs.open_jobs()
    shown = job.outcomes[0].test
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", job=job.job), untested=True)

    page = visitor.go(f"/job/{job.job}")

    slug, _, name = shown.partition("/")
    entry = bench.entries.entry(slug)
    assert entry
    assert entry.test(name)
    assert shown not in page.text
    assert "→" in page.text
