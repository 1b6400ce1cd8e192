"""Two names of a model become one on the review with a press, and two again with another."""

from __future__ import annotations

import pytest
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.model import Confirmation

PACK = "battery-not-detected/pack"

pytestmark = pytest.mark.shop("with_three_jobs")


def test_names_that_differ_in_spelling_alone_are_offered_as_one(
    bench: Bench, visitor: Visitor
) -> None:
    bench.history().close_job(
        Confirmation(PACK, "tern-13", closed_at="2026-07-02T10:00:00Z")
    )
    assert "tern-13 and Tern 13 differ in spelling alone." in visitor.go("/review").text

    page = visitor.press("Count it as Tern 13")

    assert "tern-13 is counted as Tern 13" in page.text
    assert "3 jobs on 2 machines" in page.text
    assert "3 jobs on 2 machines" in visitor.go("/review?model=TERN-13").text
    assert "differ in spelling" not in visitor.go("/review").text
    assert "1 job on 1 machine" in visitor.press("They are two models tern-13").text
    assert bench.models.merges() == ()


def test_any_other_model_is_chosen_on_the_review_of_one(
    bench: Bench, visitor: Visitor
) -> None:
    page = visitor.go("/review?model=Skua+14")
    assert "Skua 14 is the same machine as" in page.text

    page = visitor.press("Count them as one", kept="Tern 13")

    assert "3 jobs on 2 machines" in page.text
    assert bench.asking.models() == ["Tern 13"]


def test_in_a_shop_with_one_model_nothing_is_said_of_names(
    bench: Bench, visitor: Visitor
) -> None:
    assert "Names of models" not in visitor.go("/review").text
