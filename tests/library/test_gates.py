"""The gates of a sheet: marks read and written back, steps that wait, and nothing that waits for ever."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.index import packing
from kb.library import checks, gates
from kb.library.editing import first_sheet
from kb.library.markdown import parse
from kb.library.unwritten import empty_sheet
from kb.library.writing import write
from kb.model import Entry, Finding, Outcome, Test, Urgent

SHEET = """---
title: The case tingles
area: power
---

## Symptom

- it tingles

## At once

- Pull the charger at the wall.
- said: it tingles, a shock

## Likely causes

- **charger** (often): leaks
- **filter-current** (often): within the limits

## Cheapest test first

1. Look at the lead (2 min; first)
   - split: charger
   - sound: nothing
2. Plug it in on the tested circuit (3 min; after 3)
   - trips: charger
   - holds: not charger
3. Measure the insulation (6 min; needs earth tester)
   - too low: charger
   - all in limits: not charger

## Fix

- **charger** (3 min; part charger): fit another
- **filter-current** (3 min; after 2, 3): write it down

## Safety

- Mains can kill.

## Also heard as

- it tickles
"""


@pytest.fixture
def sheet() -> Entry:
    entry = parse(SHEET, "tingles").entry
    assert entry is not None
    return entry


def test_the_marks_are_read(sheet: Entry) -> None:
    look, feed, measure = sheet.tests

    assert (look.first, feed.first, measure.first) == (True, False, False)
    assert (look.after, feed.after, measure.after) == ((), (measure.slug,), ())
    assert sheet.fixes[1].after == (measure.slug, feed.slug)
    assert sheet.deeds == ("Pull the charger at the wall.",)
    assert sheet.dangers == ("it tingles", "a shock")
    assert parse(SHEET, "tingles").remarks == ()


def test_the_index_keeps_the_marks(sheet: Entry) -> None:
    assert packing.unpacked(packing.packed(sheet)) == sheet


def test_a_sheet_written_anew_has_what_is_done_at_once_right_after_the_symptom(sheet: Entry) -> None:
    text = write(replace(sheet, sections=()))

    assert text == SHEET


def test_what_is_done_at_once_is_added_to_a_file_right_after_the_symptom(sheet: Entry) -> None:
    without = parse(write(replace(sheet, sections=(), at_once=())), "tingles").entry
    assert without is not None

    assert write(replace(without, at_once=sheet.at_once)) == SHEET


def test_numbers_follow_when_a_test_moves(sheet: Entry) -> None:
    """The fixes themselves say the same as before; what they come after stands elsewhere now."""
    look, feed, measure = sheet.tests

    moved = write(replace(sheet, tests=(look, measure, feed)))

    assert "2. Measure the insulation (6 min; needs earth tester)" in moved
    assert "3. Plug it in on the tested circuit (3 min; after 2)" in moved
    again = parse(moved, "tingles").entry
    assert again is not None
    assert again.fixes == sheet.fixes


def test_a_test_that_cannot_be_read_does_not_shift_the_numbers_of_the_others(sheet: Entry) -> None:
    torn = parse(SHEET.replace("Look at the lead (2 min; first)", "Look at the lead"), "tingles")

    assert torn.entry is not None
    assert [test.title for test in torn.entry.tests] == ["Plug it in on the tested circuit", "Measure the insulation"]
    assert torn.entry.tests[0].after == sheet.tests[1].after


def test_every_step_waits_for_the_first_tests_and_for_those_it_names(sheet: Entry) -> None:
    look, feed, measure = sheet.tests
    charger, current = sheet.fixes

    assert gates.waits_for(sheet, look, ()) == ()
    assert gates.waits_for(sheet, measure, ()) == (look,)
    assert gates.waits_for(sheet, feed, ()) == (look, measure)
    assert gates.waits_for(sheet, charger, ()) == (look,)
    assert gates.waits_for(sheet, current, ()) == (look, measure, feed)
    assert gates.waits_for(sheet, current, (look.slug, measure.slug)) == (feed,)
    assert gates.waits_for(sheet, current, (look.slug, measure.slug, feed.slug)) == ()


def test_first_tests_come_in_their_order(sheet: Entry) -> None:
    look, feed, measure = sheet.tests
    two = replace(sheet, tests=(look, replace(measure, first=True), feed))

    assert gates.next_first(two, ()) == look
    assert gates.next_first(two, (measure.slug,)) == look
    assert gates.next_first(two, (look.slug,)) == two.tests[1]
    assert gates.next_first(two, (look.slug, measure.slug)) is None
    assert gates.waits_for(two, two.tests[1], ()) == (look,)


def test_a_test_that_nobody_can_answer_holds_nothing_up(sheet: Entry) -> None:
    look, feed, measure = sheet.tests
    mute = replace(sheet, tests=(replace(look, outcomes=()), feed, replace(measure, outcomes=())))

    assert gates.next_first(mute, ()) is None
    assert gates.waits_for(mute, feed, ()) == ()


def test_a_cause_is_untested_until_every_test_that_its_fix_names_was_answered(sheet: Entry) -> None:
    _, feed, measure = sheet.tests

    assert gates.untested(sheet, "filter-current", (measure.slug,)) == (feed,)
    assert gates.untested(sheet, "filter-current", (measure.slug, feed.slug)) == ()
    assert gates.untested(sheet, "charger", ()) == ()


_marks = st.lists(
    st.sampled_from(("first", "after 1", "after 2", "after 3, 1", "after 4", "after 9", "cover off", "9 in 10")),
    max_size=4,
    unique=True,
)


@settings(max_examples=200, deadline=None)
@given(st.lists(_marks, min_size=4, max_size=4), _marks)
def test_whatever_the_marks_every_step_can_be_reached_and_they_come_back_equal(
    tests: list[list[str]], fix: list[str]
) -> None:
    text = SHEET.partition("## Cheapest")[0] + "## Cheapest test first\n\n"
    for number, marks in enumerate(tests, 1):
        text += f"{number}. Try {number} ({'; '.join(['2 min', *marks])})\n    - a: charger\n    - b: nothing\n"
    text += f"\n## Fix\n\n- **charger, filter-current** ({'; '.join(['3 min', *fix])}): seat it\n"
    text += SHEET[SHEET.index("\n## Safety") :]

    entry = parse(text, "tingles").entry
    assert entry is not None
    answered: list[str] = []
    while waiting := gates.waits_for(entry, entry.fixes[0], answered):
        assert gates.waits_for(entry, waiting[0], answered) == ()
        answered.append(waiting[0].slug)
    for test in entry.tests:
        if waiting := gates.waits_for(entry, test, ()):
            assert gates.waits_for(entry, waiting[0], ()) == ()

    once = parse(write(entry), "tingles").entry
    assert once == entry
    again = parse(write(replace(entry, sections=())), "tingles")
    assert again.entry == entry
    assert again.remarks == ()


def test_a_new_sheet_begins_with_the_tests_that_came_first_on_the_bench(sheet: Entry) -> None:
    look, feed, _ = sheet.tests
    slow = replace(look, minutes=9.0)

    text = first_sheet(
        empty_sheet(),
        "it stings",
        "power",
        [(Finding("s/feed", "trips"), feed), (Finding("s/look", "split"), slow)],
        "",
    )

    assert "1. Look at the lead (9 min; first)\n" in text
    assert "2. Plug it in on the tested circuit (3 min)\n" in text


def _wishes(text: str) -> list[str]:
    """What is wished for in a sheet beyond what a sheet as short as this one always brings."""
    usual = {"Symptom", "Likely causes", "Also heard as"}
    entry = parse(text, "tingles").entry
    assert entry is not None
    return [
        f"{one.line}: {one.problem}"
        for one in checks.inspect(entry)
        if one.problem.split("`")[1:2] == [] or one.problem.split("`")[1] not in usual
    ]


def test_what_a_sheet_may_say_at_once_is_no_wish() -> None:
    assert _wishes(SHEET) == []


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("The charger is hot.", "12: `The charger is hot.` does not say what to do"),
        ("Charging it makes it worse.", "12: `Charging it makes it worse.` does not say what to do"),
        ("pull the plug", "12: `pull the plug` does not say what to do"),
        ("Pull " + "the very long lead " * 8, "12: a deed has 156 characters"),
    ],
)
def test_a_deed_that_is_none_or_too_long_is_a_wish(line: str, told: str) -> None:
    assert _wishes(SHEET.replace("Pull the charger at the wall.", line.strip())) == [told]


@pytest.mark.parametrize(
    "line", ["Do not press on it.", "If it smokes, clear the room.", "Keep away.", "Never open it."]
)
def test_a_deed_may_forbid_and_may_name_its_condition(line: str) -> None:
    assert _wishes(SHEET.replace("Pull the charger at the wall.", line)) == []


def test_more_than_three_deeds_and_none_at_all_are_wishes() -> None:
    many = SHEET.replace(
        "- Pull the charger at the wall.\n", "- Pull it.\n- Leave it.\n- Keep away.\n- Call for help.\n"
    )
    none = SHEET.replace("- Pull the charger at the wall.\n", "")

    assert _wishes(many) == ["10: `At once` has 4 deeds"]
    assert _wishes(none) == ["10: `At once` says nothing to do"]


@pytest.mark.parametrize(
    ("title", "detail"),
    [
        ("Press the pad in all four corners (2 min; first)", ""),
        ("Look at the lead (2 min; first; cover off)", ""),
        ("Look at the lead (2 min; first)", "Then charge it for ten minutes."),
        ("Measure the rail with the machine running (2 min; first)", ""),
    ],
)
def test_a_first_test_that_opens_presses_charges_or_measures_live_is_a_wish(title: str, detail: str) -> None:
    told = _wishes(SHEET.replace("Look at the lead (2 min; first)", f"{title}\n\n   {detail}" if detail else title))

    assert len(told) == 1
    assert "`first` test" in told[0]


def test_a_first_test_may_say_what_is_not_to_be_done() -> None:
    assert _wishes(SHEET.replace("(2 min; first)\n", "(2 min; first)\n\n   Do not press it, never charge it.\n")) == []


def test_a_test_that_comes_first_or_is_waited_for_may_take_longer_than_the_next(sheet: Entry) -> None:
    look, feed, measure = sheet.tests
    kept = replace(sheet, tests=(replace(look, minutes=9.0), replace(measure, minutes=8.0), feed))
    stray = replace(sheet, tests=(replace(look, minutes=9.0), replace(measure, minutes=8.0), replace(feed, after=())))

    def cheaper(entry: Entry) -> list[str]:
        return [one.problem for one in checks.inspect(entry) if "is cheaper" in one.problem]

    assert cheaper(kept) == []
    assert cheaper(stray) == ["`Plug it in on the tested circuit` is cheaper than the test before it"]


def test_an_urgent_line_is_a_deed_or_words() -> None:
    assert Urgent("Pull it.").said == ()
    assert Test("a", "A", 1, (Outcome("x"),)).after == ()
