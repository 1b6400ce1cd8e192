"""The page of a pile: what is asked in the address is answered, and what is no number is refused."""

from __future__ import annotations

import pytest
from helpers.floors import came_in
from helpers.visiting import Visitor

from kb.bench.front import Bench
from webui.app import create_app


@pytest.fixture
def bench(floor: Bench) -> Bench:
    return floor


def test_the_next_machine_of_a_lot_is_named_and_another_lot_is_empty(
    bench: Bench, visitor: Visitor
) -> None:
    assert "Next:" in visitor.go("/pile?hours=8&money=15&lot=P7").text
    assert "Next:" not in visitor.go("/pile?lot=P9").text


@pytest.mark.parametrize("address", ["/pile?hours=many", "/pile?money=little"])
def test_what_is_no_number_is_refused(bench: Bench, address: str) -> None:
    page = Visitor(create_app(bench)).go(address)

    assert page.status == 400
    assert "many" in page.text or "little" in page.text or "number" in page.text


def test_a_machine_that_tells_of_a_danger_stands_above_the_pile_and_on_its_own_page_until_a_look_says_it(
    gated: Bench,
) -> None:
    visitor = Visitor(create_app(gated))
    came_in(gated, words="buzzes in the corner")
    came_in(gated, "P7-002", words="no battery found")
    deed = "Pull the charger at the wall."

    pile = visitor.go("/pile").text
    assert pile.index(deed) < pile.index("Next:")
    page = visitor.follow("P7-001").text
    assert page.index(deed) < page.index("Find out what is wrong")

    gated.machines.let_go("P7-001", "waste")

    assert deed not in visitor.go("/u/P7-001").text
