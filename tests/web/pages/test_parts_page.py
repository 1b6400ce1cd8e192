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


def test_the_drawer_stands_among_those_who_have_one_and_gives_a_piece_to_a_machine_alone(floor: Bench) -> None:
    floor.parts.take("P7-05", "keyboard")
    visitor = Visitor(create_app(floor))
    assert "Taken out of the drawer" not in visitor.go("/parts?part=keyboard&model=Skua+14").text
    page = visitor.go("/parts?part=keyboard&for=P7-03")
    assert "The drawer, from P7-05 · Skua 14" in page.text
    page = visitor.press("Taken out of the drawer")

    assert "The drawer" not in page.text
    assert floor.machines.unit("P7-03").to_fit == ("keyboard",)
