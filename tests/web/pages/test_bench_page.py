"""The first page: words in, answers out."""

from __future__ import annotations

from helpers.floors import address, came_in
from helpers.visiting import Visitor

from kb.bench.front import Bench


def test_a_tag_alone_in_the_field_leads_to_its_machine(bench: Bench, visitor: Visitor) -> None:
    came_in(bench)

    for typed in ("P7-001", "p7-001", " P7-001 ", "HTTP://BENCH:8377/U/P7-001"):
        assert address(visitor, f"/?q={typed}") == "/u/P7-001", typed
    assert address(visitor, "/scan?tag=http://bench:8377/u/P7-001") == "/u/P7-001"
    assert "no battery" in visitor.go("/U/P7-001").text
    assert address(visitor, "/?q=no+battery+7") == "/"
    assert address(visitor, "/?q=P7-002") == "/"


def test_the_tag_on_the_first_page_fills_in_what_is_known(bench: Bench, visitor: Visitor) -> None:
    came_in(bench, place="B2")

    page = visitor.go("/?unit=p7-001")

    asked = page.forms[0].fields
    assert (asked["q"], asked["model"], asked["unit"]) == ("no battery", "Tern 13", "P7-001")
    assert "place B2" in page.text
