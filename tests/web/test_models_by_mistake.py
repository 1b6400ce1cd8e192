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


def test_a_model_near_a_known_one_is_asked_about_beside_the_answer(visitor: Visitor) -> None:
    page = visitor.go(f"/?q={WORDS}&model=Tern+31")

    assert "No job was on Tern 31 yet. Is it Tern 13" in page.text
    assert "Is it" not in visitor.follow("Yes, Tern 13").text
    assert "Is it" not in visitor.go(f"/?q={WORDS}&model=tern13").text
    assert "Is it" not in visitor.go(f"/?q={WORDS}&model=Guillemot+17+plus").text


@pytest.mark.parametrize(("press", "saved"), [("Yes, Tern 13", ["Tern 13"]), ("No, Tern 31", ["Tern 13", "Tern 31"])])
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


def test_a_kept_model_is_marked_with_a_cross_and_a_link_without_a_model_ignores_it(visitor: Visitor) -> None:
    visitor.go(f"/?q={WORDS}&model=Tern+13")

    home = visitor.go("/")
    assert home.forms[0].fields["model"] == "Tern 13"
    assert "(kept)" in home.text
    for link in (f"/?q={WORDS}", SLIP):
        page = visitor.go(link)
        assert 'value="Tern 13"' not in page.html.replace('<option value="Tern 13">', "")
        assert "(kept)" not in page.text
    visitor.go("/")
    assert visitor.follow("✕").forms[0].fields["model"] == ""
    assert visitor.go("/").forms[0].fields["model"] == ""
