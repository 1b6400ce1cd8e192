"""The page for arrivals: one machine by its tag, or a whole list."""

from __future__ import annotations

import io

from helpers.floors import came_in
from helpers.visiting import HOME, Visitor

from kb.bench.front import Bench


def test_a_tag_that_nobody_knows_can_be_taken_in_from_its_page(
    bench: Bench, visitor: Visitor
) -> None:
    page = visitor.go("/u/P7-009")
    assert page.status == 404
    assert "No record names this tag" in page.text

    visitor.follow("Take it in")
    visitor.press("Take it in", lot="P7", other_model="Tern 13", q="no battery")

    assert bench.machines.unit("P7-009").words == "no battery"


def test_a_list_is_looked_through_first_and_then_its_good_lines_come_in(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go("/arrival?lot=P7")
    text = "tag;model;fault\nP7-001;Tern 13;dead\nP7-001;Tern 13;loud\nP7-003;;hot\n"

    page = visitor.press("Look through it", text=text)
    assert "1 machine would come in" in page.text
    assert "Line 3: the tag P7-001 stands on line 2 too" in page.text
    assert "Line 4: the model is missing" in page.text
    assert bench.machines.units() == ()

    assert "1 machine came in." in visitor.press("Take in the good lines").text
    assert [one.line.tag for one in bench.machines.units()] == ["P7-001"]


def test_a_file_from_a_spreadsheet_is_taken(bench: Bench, visitor: Visitor) -> None:
    visitor.go("/arrival?lot=P7")
    token = next(
        form for form in visitor.page.forms if form.action == "/arrival/list"
    ).fields["token"]
    data = {
        "token": token,
        "lot": "P7",
        "take": "1",
        "file": (
            io.BytesIO("Model;Remark\nTern 13;Gehäuse\n".encode("cp1252")),
            "p.csv",
        ),
    }

    answer = visitor.client.post(
        "/arrival/list", data=data, base_url=HOME, headers={"Origin": HOME}
    )

    assert answer.status_code == 200
    assert bench.machines.unit("P7-001").words == "Gehäuse"


def test_what_is_kept_of_a_refused_form_is_called_as_the_form_calls_it(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench, "P7-001")
    visitor.go("/arrival")

    visitor.press(
        "Take it in", lot="P7", tag="P7-001", other_model="Tern 13", q="no light"
    )

    shown = visitor.page.text
    assert "came in already" in shown
    assert "Another model" in shown
    assert "other_model" not in shown
