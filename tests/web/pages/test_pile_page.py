"""The page of a pile: what is asked in the address is answered, and what is no number is refused."""

from __future__ import annotations

import pytest
from helpers.visiting import Visitor

from kb.bench.front import Bench
from webui.app import create_app


@pytest.fixture
def bench(floor: Bench) -> Bench:
    return floor


def test_the_next_machine_of_a_lot_is_named_and_another_lot_is_empty(bench: Bench, visitor: Visitor) -> None:
    assert "Next:" in visitor.go("/pile?hours=8&money=15&lot=P7").text
    assert "Next:" not in visitor.go("/pile?lot=P9").text


@pytest.mark.parametrize("address", ["/pile?hours=many", "/pile?money=little"])
def test_what_is_no_number_is_refused(bench: Bench, address: str) -> None:
    page = Visitor(create_app(bench)).go(address)

    assert page.status == 400
    assert "many" in page.text or "little" in page.text or "number" in page.text
