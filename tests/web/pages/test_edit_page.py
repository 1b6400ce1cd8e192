"""Writing and editing entries in the web pages: checked, saved as the shop's copy, never over somebody else's text."""

from __future__ import annotations

import re

import pytest
from flask import Flask
from helpers.editing import MISSPELT, SLUG, STOCK, edited, own_file
from helpers.visiting import Page, Visitor

from kb.bench.front import Bench
from kb.library.markdown import MAX_BYTES
from kb.library.shelf import stock_folder

MISSPELT_AT = MISSPELT[: MISSPELT.index("(offten)")].count("\n") + 1

pytestmark = pytest.mark.shop("on_a_known_day")


# Editing


def test_editing_a_stock_entry_makes_the_shops_copy(
    bench: Bench, visitor: Visitor
) -> None:
    page = edited(visitor, STOCK.replace("title: The system", "title: Here the system"))

    assert "Here the system shows no battery" in page.text
    assert "this shop's own text" in page.text
    assert own_file(bench).read_text() == STOCK.replace(
        "title: The system", "title: Here the system"
    )
    assert (stock_folder() / f"{SLUG}.md").read_text("utf-8") == STOCK


def test_an_edit_that_changes_nothing_changes_no_character(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/entry/{SLUG}/edit")

    visitor.press("Save")

    assert own_file(bench).read_text() == STOCK


def test_a_check_names_the_line_and_saves_nothing(
    bench: Bench, visitor: Visitor
) -> None:
    page = edited(visitor, MISSPELT, "Check")

    assert f"Line {MISSPELT_AT}" in page.text
    assert "`offten` is not a weight" in page.text
    assert (
        next(form for form in page.forms if "text" in form.fields).fields["text"]
        == MISSPELT
    )
    assert not own_file(bench).exists()


def test_the_check_while_typing_gives_the_remarks_and_the_look_alone(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/entry/{SLUG}/edit")
    form = next(form for form in visitor.page.forms if "text" in form.fields)

    answer = visitor.client.post(
        "/check",
        data={**form.fields, "text": MISSPELT},
        base_url="http://localhost",
        headers={"Origin": "http://localhost"},
    )

    assert "<html" not in answer.text
    assert f'data-line="{MISSPELT_AT}"' in answer.text
    assert "How it will look" in answer.text
    assert not own_file(bench).exists()


def test_a_text_with_remarks_is_saved_and_they_are_said(
    bench: Bench, visitor: Visitor
) -> None:
    page = edited(visitor, MISSPELT)

    assert page.status == 200
    assert f"line {MISSPELT_AT}: `offten` is not a weight" in page.text
    assert page.link("Mend it") == f"/entry/{SLUG}/edit"
    assert own_file(bench).read_text() == MISSPELT


@pytest.mark.parametrize(
    "text",
    ["", "title: x", STOCK.replace("## Symptom", "## Other")],
    ids=["empty", "head", "bare"],
)
def test_a_text_that_is_no_entry_is_not_saved_but_kept_in_the_form(
    bench: Bench, visitor: Visitor, text: str
) -> None:
    page = edited(visitor, text)

    assert page.status == 400
    assert "Not saved. This is no entry yet" in page.text
    assert (
        next(form for form in page.forms if "text" in form.fields)
        .fields["text"]
        .strip()
        == text.strip()
    )
    assert not own_file(bench).exists()


def test_an_entry_over_the_limit_is_refused_and_offered_again(
    bench: Bench, visitor: Visitor
) -> None:
    page = edited(visitor, STOCK + "\n## Notes\n\n" + "x" * MAX_BYTES)

    assert page.status == 400
    assert "64 KiB" in page.text
    assert not own_file(bench).exists()


def test_a_file_that_holds_no_entry_opens_for_mending(
    bench: Bench, visitor: Visitor
) -> None:
    """One of the shop's alone: for a copy of a stock entry the stock entry stands in."""
    (bench.folder / "entries").mkdir(exist_ok=True)
    (bench.folder / "entries" / "harbour-damp.md").write_text("nothing of an entry\n")

    answer = visitor.client.get(
        "/entry/harbour-damp", base_url="http://localhost", follow_redirects=True
    )

    assert answer.request.path == "/entry/harbour-damp/edit"
    assert "begin with a line `---`" in Page(answer).text


# What differs from the stock text


def test_what_the_shop_changed_is_drawn_with_signs(visitor: Visitor) -> None:
    edited(visitor, MISSPELT)

    page = visitor.follow("What this shop changed")

    assert re.search(r"<del><span class=\"sign\">−</span>[^<]*\(often\)", page.html)
    assert re.search(r"<ins><span class=\"sign\">\+</span>[^<]*\(offten\)", page.html)
    assert page.html.count("<del>") == page.html.count("<ins>") == 1


def test_taking_the_stock_text_again_keeps_the_shops_copy_aside(
    bench: Bench, visitor: Visitor
) -> None:
    for number, text in enumerate((MISSPELT, MISSPELT.replace("offten", "oftten")), 1):
        edited(visitor, text)
        visitor.go(f"/entry/{SLUG}/changes")
        page = visitor.press("Move this shop's text aside")
        kept = (
            bench.folder
            / "entries"
            / ".kept"
            / (f"{SLUG}-2031-03-09" + ("" if number == 1 else "-2") + ".md")
        )
        assert kept.read_text() == text
        assert not own_file(bench).exists()
        assert f"entries/.kept/{kept.name}" in page.text
        assert "this shop's own text" not in visitor.follow("The stock text").text


def test_a_copy_changed_meanwhile_is_not_moved_aside(
    bench: Bench, visitor: Visitor
) -> None:
    edited(visitor, MISSPELT)
    visitor.go(f"/entry/{SLUG}/changes")
    own_file(bench).write_text(STOCK + "\n<!-- by hand -->\n")

    page = visitor.press("Move this shop's text aside")

    assert "by hand" in page.text
    assert own_file(bench).exists()


def test_an_entry_of_the_shops_own_has_no_stock_text_to_take(
    bench: Bench, visitor: Visitor
) -> None:
    bench.entries.save("ours-alone", STOCK, "")

    assert visitor.go("/entry/ours-alone/changes").status == 404
    assert "What this shop changed" not in visitor.go("/entry/ours-alone").text


def test_an_entry_of_the_shops_own_is_put_away_and_the_page_says_how_to_get_it_back(
    bench: Bench, visitor: Visitor
) -> None:
    bench.entries.save("ours-alone", STOCK, "")
    visitor.go("/entry/ours-alone")

    page = visitor.press("Move this entry aside")

    kept = bench.folder / "entries" / ".kept" / "ours-alone-2031-03-09.md"
    assert kept.read_text() == STOCK
    assert (
        "kept in this shop's folder as entries/.kept/ours-alone-2031-03-09.md"
        in page.text
    )
    assert "name it ours-alone.md" in page.text
    assert visitor.go("/entry/ours-alone").status == 404
    kept.rename(bench.folder / "entries" / "ours-alone.md")
    assert visitor.go("/entry/ours-alone").status == 200


def test_an_entry_changed_meanwhile_is_not_put_away(
    bench: Bench, visitor: Visitor
) -> None:
    bench.entries.save("ours-alone", STOCK, "")
    visitor.go("/entry/ours-alone")
    (bench.folder / "entries" / "ours-alone.md").write_text(
        STOCK + "\n<!-- by hand -->\n"
    )

    assert visitor.press("Move this entry aside").status == 200
    assert (bench.folder / "entries" / "ours-alone.md").exists()


@pytest.mark.parametrize(
    "name",
    [
        "",
        "../battery-not-detected.md",
        "ours-alone-2031-03-10.md",
        "other-2031-03-09.md",
    ],
)
def test_a_file_that_is_not_kept_has_no_page(
    bench: Bench, visitor: Visitor, name: str
) -> None:
    bench.entries.save("ours-alone", STOCK, "")
    visitor.go("/entry/ours-alone")
    visitor.press("Move this entry aside")

    assert visitor.go(f"/entry/ours-alone/away?kept={name}").status == 404


# Two people at one entry


def test_a_second_editor_sees_both_texts_and_what_differs(
    app: Flask, bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/entry/{SLUG}/edit")
    edited(
        Visitor(app), STOCK.replace("title: The system", "title: First says the system")
    )

    page = visitor.press(
        "Save", text=STOCK.replace("title: The system", "title: Second says the system")
    )

    assert page.status == 409
    assert "− title: First says the system" in page.text.replace("−title", "− title")
    assert (
        "title: Second says the system"
        in next(form for form in page.forms if "text" in form.fields).fields["text"]
    )
    assert "First says" in own_file(bench).read_text()
    visitor.press("Save mine in its place")
    assert "Second says" in own_file(bench).read_text()


def test_a_file_changed_by_hand_meanwhile_is_not_overwritten(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/entry/{SLUG}/edit")
    own_file(bench).parent.mkdir(exist_ok=True)
    own_file(bench).write_text(STOCK + "\n<!-- by hand -->\n")

    page = visitor.press("Save", text=MISSPELT)

    assert page.status == 409
    assert "by hand" in page.text
    assert "by hand" in own_file(bench).read_text()


def test_a_third_text_after_a_conflict_is_noticed_too(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/entry/{SLUG}/edit")
    own_file(bench).parent.mkdir(exist_ok=True)
    own_file(bench).write_text(STOCK + "\n<!-- once -->\n")
    visitor.press("Save", text=MISSPELT)
    own_file(bench).write_text(STOCK + "\n<!-- twice -->\n")

    page = visitor.press("Save mine in its place")

    assert page.status == 409
    assert "twice" in page.text


def test_the_same_text_sent_twice_is_no_conflict(
    bench: Bench, visitor: Visitor
) -> None:
    form = visitor.go(f"/entry/{SLUG}/edit")

    visitor.press("Save", form, text=MISSPELT)
    page = visitor.press("Save", form, text=MISSPELT)

    assert page.status == 200
    assert own_file(bench).read_text() == MISSPELT
