"""What an answer says at first sight: the doing of the step, one figure a row, and nothing to do where nothing fits."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from helpers.photographs import photo
from helpers.visiting import Page, Visitor

from kb.bench.front import Bench
from kb.model import Confirmation
from webui.app import create_app
from webui.board import board, with_pictures
from webui.fields import TypedComplaint

WORDS = "shows no battery although one is fitted"


pytestmark = pytest.mark.shop("stocked")


def in_sight(page: Page) -> str:
    """The page without what is folded."""
    return re.sub(r"<details.*?</details>", "", page.html, flags=re.DOTALL)


@pytest.mark.parametrize(
    "words", ["no power no light", "screen flickers when lid moves"]
)
def test_the_first_sentence_of_how_a_step_is_done_stands_in_sight(
    bench: Bench, visitor: Visitor, words: str
) -> None:
    step = bench.asking.search(words).next_step
    assert step
    assert step.detail

    page = visitor.go(f"/?q={words}")

    first = re.split(r"(?<=\.)\s", step.detail)[0]
    shown = " ".join(re.sub("<[^>]+>", "", in_sight(page)).split())
    assert re.sub(r"[*`]", "", first)[:60] in shown.replace("&#39;", "'").replace(
        "&quot;", '"'
    ).replace("’", "'")


@pytest.mark.parametrize(
    "address", ["dishwasher leaks", "dishwasher leaks&model=Tern 13", "zxqv wvutz"]
)
def test_where_nothing_fits_no_step_is_proposed_and_what_would_tell_comes_first(
    visitor: Visitor, address: str
) -> None:
    page = visitor.go(f"/?q={address}")

    assert 'class="step"' not in page.html
    assert page.text.index("Nothing here fits these words well") < page.text.index(
        "What fits"
    )


def test_a_sentence_that_would_tell_is_added_to_the_words(visitor: Visitor) -> None:
    visitor.go("/?q=broken&model=Tern+13")

    page = visitor.follow("it shows no sign of life")

    assert page.forms[0].fields["q"] == "broken, it shows no sign of life"
    assert "Pressing the power button does nothing at all" in page.text
    assert [shown for _, shown in page.links].count("it shows no sign of life") == 0


def test_a_job_goes_on_with_steps_once_something_was_noted_on_it(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin("dishwasher leaks", "Tern 13")
    assert 'class="step"' not in visitor.go(f"/job/{job}").html

    bench.jobs.did_not_help(job, "battery-not-detected/contact")

    assert 'class="step"' in visitor.go(f"/job/{job}").html


def test_whether_anything_fits_does_not_depend_on_the_model(
    bench: Bench, visitor: Visitor
) -> None:
    for number in range(12):
        bench.jobs.confirm(
            Confirmation("screen-cracked/panel", "Tern 13", unit=f"T-{number}")
        )
    words = "something is wrong in the corner"
    verdicts = {
        m: "Nothing here fits" in visitor.go(f"/?q={words}&model={m}").text
        for m in ("", "Tern 13", "Skua 14")
    }

    assert len(set(verdicts.values())) == 1, verdicts


def test_each_row_shows_one_percentage(bench: Bench, visitor: Visitor) -> None:
    for number in range(3):
        bench.jobs.confirm(
            Confirmation("battery-not-detected/contact", "Tern 13", unit=f"T-{number}")
        )

    page = visitor.go(f"/?q={WORDS}&model=Tern+13")

    rows = page.html.split('<li class="row')[1:]
    assert len(rows) > 3
    for row in rows:
        assert row.split("</li>")[0].count("\xa0%") == 1
    assert "how likely it is that this is what is wrong" in page.text


def test_beside_a_fix_the_test_that_may_come_before_it_has_its_pictures_too(
    bench: Bench,
) -> None:
    answer = bench.asking.search(WORDS)
    test = answer.next_step
    assert test
    assert test.kind == "test"
    bench.entries.album().add(test.entry, photo(), "the plug", f"test {test.name}")
    fix = replace(
        test, kind="fix", name=answer.entries[0].causes[0].cause.partition("/")[2]
    )

    with create_app(bench).test_request_context("/"):
        laid_out = board(
            bench.entries.entry,
            TypedComplaint(WORDS),
            replace(answer, next_step=fix, next_test=test),
        )
        shown = with_pictures(bench, laid_out)

    assert shown.pictures == ()
    assert [one.caption for one in shown.other_pictures] == ["the plug"]
