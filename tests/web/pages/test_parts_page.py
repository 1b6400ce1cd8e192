"""The page of parts, and that of the pile beside it."""

from __future__ import annotations

from helpers.visiting import Visitor

from kb.bench.front import Bench
from webui.app import create_app


def test_on_the_pages_one_tap_takes_a_part(floor: Bench) -> None:
    visitor = Visitor(create_app(floor))
    page = visitor.go("/parts?part=keyboard&for=P7-02")
    assert "fits: the same model" in page.text
    page = visitor.press("Taken from")

    assert page.status == 200
    assert "P7-04" not in page.text.split("What machines wait for")[0]
    assert floor.machines.unit("P7-02").wanted == ()
    page = visitor.go("/pile?hours=8&money=15&lot=P7")
    assert "Next:" in page.text
    assert visitor.go("/pile?hours=many").status == 400
