"""A model is not made by a slip of the finger, and a kept one is seen to be kept."""

from __future__ import annotations

import pytest
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.model import Confirmation

WORDS = "shows no battery although one is fitted"
PLUG = "battery-not-detected/contact"
SLIP = f"/confirm?cause={PLUG}&q=another+complaint"


@pytest.fixture
def bench(stocked: Bench) -> Bench:
    stocked.jobs.confirm(Confirmation(PLUG, "Tern 13", words=WORDS))
    return stocked


def models(bench: Bench) -> list[str]:
    return sorted({job.model for job in bench.history().closed_jobs()})


def test_a_model_near_a_known_one_is_asked_about_beside_the_answer(
    visitor: Visitor,
) -> None:
    page = visitor.go(f"/?q={WORDS}&model=Tern+31")

    assert "No job was on Tern 31 yet. Is it Tern 13" in page.text
    assert "Is it" not in visitor.follow("Yes, Tern 13").text
    assert "Is it" not in visitor.go(f"/?q={WORDS}&model=tern13").text
    assert "Is it" not in visitor.go(f"/?q={WORDS}&model=Guillemot+17+plus").text


@pytest.mark.parametrize(
    ("press", "saved"),
    [("Yes, Tern 13", ["Tern 13"]), ("No, Tern 31", ["Tern 13", "Tern 31"])],
)
def test_a_near_model_counts_only_once_somebody_said_which(
    bench: Bench, visitor: Visitor, press: str, saved: list[str]
) -> None:
    visitor.go(f"{SLIP}&model=Tern+31")

    page = visitor.press("Save")

    assert page.status == 409
    assert "nothing is saved yet" in page.text
    assert len(list(bench.history().closed_jobs())) == 1
    assert "Saved" in visitor.press(press).text
    assert models(bench) == saved


def test_a_model_like_no_other_is_saved_at_once(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"{SLIP}&model=Guillemot+17+plus")

    assert "Saved" in visitor.press("Save").text
    assert models(bench) == ["Guillemot 17 plus", "Tern 13"]


def test_a_kept_model_is_marked_with_a_cross_and_a_link_without_a_model_ignores_it(
    visitor: Visitor,
) -> None:
    visitor.go(f"/?q={WORDS}&model=Tern+13")

    home = visitor.go("/")
    assert home.forms[0].fields["model"] == "Tern 13"
    assert "(kept)" in home.text
    for link in (f"/?q={WORDS}", SLIP):
        page = visitor.go(link)
        assert 'value="Tern 13"' not in page.html.replace(
            '<option value="Tern 13">', ""
        )
        assert "(kept)" not in page.text
    visitor.go("/")
    assert visitor.follow("✕").forms[0].fields["model"] == ""
    assert visitor.go("/").forms[0].fields["model"] == ""


def test_a_job_is_opened_on_a_near_model_only_once_somebody_said_which(
    bench: Bench, visitor: Visitor
) -> None:
    page = visitor.go(f"/?q={WORDS}&model=Tern+31")
    outcome = next(
        shown
        for form in page.forms
        for name, _, shown in form.buttons
        if name == "outcome"
    )

    asked = visitor.press(outcome)

    assert asked.status == 409
    assert bench.jobs.open_jobs() == ()
    visitor.press("No, Tern 31 is a new model")
    assert [(job.model, len(job.outcomes)) for job in bench.jobs.open_jobs()] == [
        ("Tern 31", 1)
    ]


def test_a_machine_comes_in_as_the_known_model_that_was_meant(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go("/arrival")
    assert (
        visitor.press(
            "Take it in", lot="P7", tag="P7-1", other_model="Tren 13", place="A1"
        ).status
        == 409
    )
    visitor.press("Yes, Tern 13")
    visitor.go("/arrival")
    visitor.press("Take it in", lot="P7", tag="P7-2", other_model="tern13")

    assert [(one.line.model, one.line.place) for one in bench.machines.units()] == [
        ("Tern 13", "A1"),
        ("Tern 13", ""),
    ]
