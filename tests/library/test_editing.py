"""Differences of two texts, and pictures put into an entry and taken out."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.library import editing
from kb.library.customs import shipped_customs
from kb.library.editing import first_sheet
from kb.library.markdown import parse
from kb.library.shelf import digest, stock_folder
from kb.model import Entry, Finding

SLUG = "battery-not-detected"
STOCK = (stock_folder() / f"{SLUG}.md").read_text("utf-8")

# Laws


LINES = st.lists(st.sampled_from(["a", "b", "c", "", "- x"]), max_size=30).map(
    lambda lines: "\n".join([*lines, "end"])
)


@given(LINES, LINES)
def test_the_places_of_a_difference_stand_where_they_say(old: str, new: str) -> None:
    after = new.splitlines()
    for place in editing.differences(old, new):
        shown = [line.text for line in place.lines if line.sign != "old"]
        assert after[place.first - 1 : place.first - 1 + len(shown)] == shown


@given(LINES, LINES)
def test_outside_the_places_nothing_differs(old: str, new: str) -> None:
    places = editing.differences(old, new)

    removed = sum(line.sign == "old" for place in places for line in place.lines)
    added = sum(line.sign == "new" for place in places for line in place.lines)
    assert len(old.splitlines()) - removed + added == len(new.splitlines())
    assert (places == ()) == (old.splitlines() == new.splitlines())


@pytest.mark.parametrize(
    "text",
    [
        STOCK,
        STOCK.replace("\n", "\r\n"),
        STOCK.replace("## Fix", "## Pictures\n\n## Fix"),
    ],
)
def test_a_picture_put_in_and_taken_out_leaves_the_entry_as_it_was(text: str) -> None:
    one = editing.with_picture(text, editing.Reference(f"{SLUG}-1.jpg", "the plug"))
    two = editing.with_picture(one, editing.Reference(f"{SLUG}-2.jpg", ""))

    assert [named.file for named in editing.pictures_in(two)] == [
        f"{SLUG}-1.jpg",
        f"{SLUG}-2.jpg",
    ]
    bare = editing.without_picture(
        editing.without_picture(two, f"{SLUG}-1.jpg"), f"{SLUG}-2.jpg"
    )
    assert editing.pictures_in(bare) == ()
    assert parse(bare, SLUG).entry == parse(STOCK, SLUG).entry
    assert digest(bare) != digest(two)


def test_a_picture_changes_its_words_and_its_place_and_nothing_else_of_the_text() -> (
    None
):
    first, other = (
        editing.Reference(f"{SLUG}-1.jpg", "the plug"),
        editing.Reference(f"{SLUG}-11.jpg", "", "symptom"),
    )
    text = editing.with_picture(editing.with_picture(STOCK, first), other)
    meant = editing.Reference(first.file, r"the plug, \1 of 2", "fix contact")

    changed = editing.with_other_words(text, meant)

    assert editing.pictures_in(changed) == (
        editing.Reference(first.file, "the plug, 1 of 2", "fix contact"),
        other,
    )
    bare = editing.without_picture(
        editing.without_picture(changed, first.file), other.file
    )
    assert parse(bare, SLUG).entry == parse(STOCK, SLUG).entry
    assert "pictures/" not in bare


def test_a_place_is_one_that_the_entry_has() -> None:
    entry = parse(STOCK, SLUG).entry
    assert entry
    fix = replace(entry.fixes[0], causes=("contact", "pack"))
    entry = replace(entry, fixes=(fix, *entry.fixes[1:]))

    assert (
        editing.place_in(entry, f"test {entry.tests[1].slug}")
        == f"test {entry.tests[1].slug}"
    )
    assert editing.place_in(entry, "fix pack") == "fix contact"
    assert editing.place_in(entry, "symptom") == "symptom"
    assert [
        editing.place_in(entry, said)
        for said in ("", "test", "test gone", "fix gone", "act contact")
    ] == [""] * 5


def test_a_new_sheet_begins_with_the_tests_that_came_first_on_the_bench(
    waiting: Entry,
) -> None:
    look, feed, _ = waiting.tests
    slow = replace(look, minutes=9.0)

    text = first_sheet(
        shipped_customs().empty_sheet(),
        "it stings",
        "power",
        [(Finding("s/feed", "trips"), feed), (Finding("s/look", "split"), slow)],
        "",
    )

    assert "1. Look at the lead (9 min; first)\n" in text
    assert "2. Plug it in on the tested circuit (3 min)\n" in text
