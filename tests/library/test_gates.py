"""The gates of a sheet: marks read and written back, steps that wait, and nothing that waits for ever."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.marked import GATED
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.library import gates
from kb.library.markdown import parse
from kb.library.writing import write
from kb.model import Entry


def test_the_marks_are_read(waiting: Entry) -> None:
    look, feed, measure = waiting.tests

    assert (look.first, feed.first, measure.first) == (True, False, False)
    assert (look.after, feed.after, measure.after) == ((), (measure.slug,), ())
    assert waiting.fixes[1].after == (measure.slug, feed.slug)
    assert waiting.deeds == ("Pull the charger at the wall.",)
    assert waiting.dangers == ("it tingles", "a shock")
    assert parse(GATED, "tingles").remarks == ()


def test_a_test_that_cannot_be_read_does_not_shift_the_numbers_of_the_others(
    waiting: Entry,
) -> None:
    torn = parse(
        GATED.replace("Look at the lead (2 min; first)", "Look at the lead"), "tingles"
    )

    assert torn.entry is not None
    assert [test.title for test in torn.entry.tests] == [
        "Plug it in on the tested circuit",
        "Measure the insulation",
    ]
    assert torn.entry.tests[0].after == waiting.tests[1].after


def test_every_step_waits_for_the_first_tests_and_for_those_it_names(
    waiting: Entry,
) -> None:
    look, feed, measure = waiting.tests
    charger, current = waiting.fixes

    assert gates.waits_for(waiting, look, ()) == ()
    assert gates.waits_for(waiting, measure, ()) == (look,)
    assert gates.waits_for(waiting, feed, ()) == (look, measure)
    assert gates.waits_for(waiting, charger, ()) == (look,)
    assert gates.waits_for(waiting, current, ()) == (look, measure, feed)
    assert gates.waits_for(waiting, current, (look.slug, measure.slug)) == (feed,)
    assert gates.waits_for(waiting, current, (look.slug, measure.slug, feed.slug)) == ()


def test_first_tests_come_in_their_order(waiting: Entry) -> None:
    look, feed, measure = waiting.tests
    two = replace(waiting, tests=(look, replace(measure, first=True), feed))

    assert gates.next_first(two, ()) == look
    assert gates.next_first(two, (measure.slug,)) == look
    assert gates.next_first(two, (look.slug,)) == two.tests[1]
    assert gates.next_first(two, (look.slug, measure.slug)) is None
    assert gates.waits_for(two, two.tests[1], ()) == (look,)


def test_a_test_that_nobody_can_answer_holds_nothing_up(waiting: Entry) -> None:
    look, feed, measure = waiting.tests
    mute = replace(
        waiting, tests=(replace(look, outcomes=()), feed, replace(measure, outcomes=()))
    )

    assert gates.next_first(mute, ()) is None
    assert gates.waits_for(mute, feed, ()) == ()


def test_a_cause_is_untested_until_every_test_that_its_fix_names_was_answered(
    waiting: Entry,
) -> None:
    _, feed, measure = waiting.tests

    assert gates.untested(waiting, "filter-current", (measure.slug,)) == (feed,)
    assert gates.untested(waiting, "filter-current", (measure.slug, feed.slug)) == ()
    assert gates.untested(waiting, "charger", ()) == ()


_marks = st.lists(
    st.sampled_from(
        (
            "first",
            "after 1",
            "after 2",
            "after 3, 1",
            "after 4",
            "after 9",
            "cover off",
            "9 in 10",
        )
    ),
    max_size=4,
    unique=True,
)


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(st.lists(_marks, min_size=4, max_size=4), _marks)
def test_whatever_the_marks_every_step_can_be_reached_and_they_come_back_equal(
    tests: list[list[str]], fix: list[str]
) -> None:
    text = GATED.partition("## Cheapest")[0] + "## Cheapest test first\n\n"
    for number, marks in enumerate(tests, 1):
        text += f"{number}. Try {number} ({'; '.join(['2 min', *marks])})\n    - a: charger\n    - b: nothing\n"
    text += f"\n## Fix\n\n- **charger, filter-current** ({'; '.join(['3 min', *fix])}): seat it\n"
    text += GATED[GATED.index("\n## Safety") :]

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
