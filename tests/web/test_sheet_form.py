"""The form of a sheet as it is sent: fields that grow without script, both views of one sheet, nothing lost between."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from helpers.editing import SLUG, STOCK, own_file
from helpers.visiting import HOME, Page, Visitor
from werkzeug.datastructures import MultiDict

from kb.bench.front import Bench
from kb.library.markdown import parse

pytestmark = pytest.mark.shop("on_a_known_day")


class Sent(HTMLParser):
    """What a browser without script sends of the last form: each field as it stands, each chosen option."""

    def __init__(self, page: Page) -> None:
        super().__init__()
        self.fields: MultiDict[str, str] = MultiDict()
        self.action, self._area, self._choice, self._options = "", "", "", 0
        self.feed(page.html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.fields, self.action = MultiDict(), given["action"]
        elif tag == "textarea":
            self._area = given["name"]
            self.fields.add(self._area, "")
        elif tag == "select":
            self._choice = given["name"]
        elif tag == "option" and "selected" in given:
            self.fields.add(self._choice, given["value"])
        elif (
            tag == "input"
            and "name" in given
            and (given.get("type") != "checkbox" or "checked" in given)
        ):
            self.fields.add(given["name"], given.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self._area = ""

    def handle_data(self, data: str) -> None:
        if self._area:
            self.fields[self._area] += (
                data if self.fields[self._area] else data.removeprefix("\n")
            )


def pressed(
    visitor: Visitor, button: str, value: str, **typed: str | list[str]
) -> Page:
    """Send the last form on the page with that button, some of its fields as they are typed."""
    form = Sent(visitor.page)
    for name, given in typed.items():
        form.fields.setlist(
            name.replace("_", "-"), [given] if isinstance(given, str) else given
        )
    data = MultiDict([*form.fields.items(multi=True), (button, value)])
    answer = visitor.client.post(
        form.action,
        data=data,
        base_url=HOME,
        headers={"Origin": HOME},
        follow_redirects=True,
    )
    visitor.page = Page(answer)
    return visitor.page


def test_a_sheet_is_written_as_fields_with_one_cause_test_outcome_and_fix_more(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go("/new?q=hums+in+the+left+corner")
    assert "what may be wrong" not in Sent(visitor.page).fields["c1-text"]
    pressed(visitor, "more", "cause", c1_text="fan is loose", c2_text="bearing is worn")
    assert 'name="c3-text"' in visitor.page.html
    assert Sent(visitor.page).fields["c1-text"] == "fan is loose"
    pressed(
        visitor,
        "more",
        "outcome-1",
        c3_text="a cable rubs",
        t1_title="Hold the fan",
        t1_minutes="2",
    )
    pressed(
        visitor,
        "more",
        "test",
        t1_o1_text="hum stops",
        t1_o1_to=["1", "2"],
        t1_o3_text="hum stays",
    )
    pressed(
        visitor,
        "more",
        "fix",
        f1_text="screw it down",
        f2_text="fit a fan",
        f2_parts="fan",
        t1_o3_to="3",
    )
    assert visitor.page.html.count(" autofocus") == 1
    pressed(visitor, "save", "", f3_text="route the cable", f3_causes="3", slug="")

    entry = bench.entries.entry("hums-in-the-left-corner")
    assert entry
    assert [cause.slug for cause in entry.causes] == [
        "fan-is-loose",
        "bearing-is-worn",
        "a-cable-rubs",
    ]
    assert [(one.text, one.points_to) for one in entry.tests[0].outcomes] == [
        ("hum stops", ("fan-is-loose", "bearing-is-worn")),
        ("hum stays", ("a-cable-rubs",)),
    ]
    assert [fix.causes for fix in entry.fixes] == [
        ("fan-is-loose",),
        ("bearing-is-worn",),
        ("a-cable-rubs",),
    ]
    sheet = bench.entries.on_file("hums-in-the-left-corner")
    assert sheet
    assert parse(sheet.text, "hums-in-the-left-corner").remarks == ()


def test_both_views_hold_the_same_and_what_is_typed_in_one_is_in_the_other(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/entry/{SLUG}/edit?as=fields")
    page = pressed(visitor, "as", "text", title="Here the system shows no battery")
    text = Sent(page).fields["text"]
    assert text == STOCK.replace(
        "The system shows no battery although one is fitted",
        "Here the system shows no battery",
    )
    assert not own_file(bench).exists()

    page = pressed(visitor, "as", "fields", text=text.replace("Here the", "There the"))
    assert Sent(page).fields["title"] == "There the system shows no battery"
    pressed(visitor, "save", "")

    assert own_file(bench).read_text() == text.replace("Here the", "There the")


def test_a_text_that_fields_do_not_know_says_so_and_opens_as_text(
    visitor: Visitor,
) -> None:
    broken = STOCK.replace(
        "## Likely causes\n", "## Likely causes\n\n- no form at all\n"
    )
    visitor.go(f"/entry/{SLUG}/edit")

    page = pressed(visitor, "as", "fields", text=broken)

    assert "says something that the fields do not know" in page.text
    assert Sent(page).fields["text"] == broken


def test_fields_that_are_no_sheet_yet_say_why_and_keep_what_was_typed(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go("/new?q=hums")
    page = pressed(
        visitor,
        "save",
        "",
        c1_text="fan is loose",
        t1_title="Hold it",
        t1_minutes="soon",
    )

    assert page.status == 400
    assert "Not saved. the minutes of test 1 are no number" in page.text
    assert (Sent(page).fields["t1-minutes"], Sent(page).fields["c1-text"]) == (
        "soon",
        "fan is loose",
    )
    assert bench.entries.on_file("hums") is None
    assert pressed(visitor, "look", "yes", t1_minutes="3").status == 200
    assert "What is to be mended" not in visitor.page.text
    assert "section `Fix` is missing" in visitor.page.text


def test_a_hostile_form_of_fields_is_answered_with_a_page(visitor: Visitor) -> None:
    visitor.go("/new?q=hums")
    for name, value in (
        ("c999999999-text", "x"),
        ("c1-was", "99"),
        ("t1-o1-to", "7000"),
        ("more", "outcome-99"),
        ("more", "x" * 999),
        ("was", "---\n" * 9999),
        ("t1-minutes", "1e9"),
        ("area", "no such area"),
        ("title", "\x00\u202e<b>"),
    ):
        form = Sent(visitor.go("/new?q=hums"))
        form.fields[name] = value
        answer = visitor.client.post(
            "/new", data=form.fields, base_url=HOME, headers={"Origin": HOME}
        )
        assert answer.status_code in (200, 303, 400), name
        assert "<b>&" not in answer.text.replace("\u202e<b>", "<b>&")


def test_a_few_rows_of_high_numbers_make_no_page_of_thousands(visitor: Visitor) -> None:
    """Each of these names alone asked for rows up to its number, all of them for sixteen million choices."""
    form = Sent(visitor.go("/new?q=hums"))
    for name in (
        "c200-text",
        "t200-title",
        "t1-o200-text",
        "t200-o200-text",
        "f200-text",
    ):
        form.fields[name] = "x"
    form.fields["look"] = "yes"

    answer = visitor.client.post(
        "/new", data=form.fields, base_url=HOME, headers={"Origin": HOME}
    )

    assert answer.status_code == 200
    assert 0 < answer.text.count("<option") < 200
