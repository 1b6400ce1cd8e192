"""Checks of sheets: what is wrong and what could be better."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from helpers.marked import GATED, MARKED, house_of, wishes

from kb.library import checks
from kb.library.markdown import parse
from kb.model import Entry, Outcome, Test, Urgent


def test_silent_causes_strangers_and_thin_lists_are_named(marked: Entry) -> None:
    text = MARKED.replace("; says nothing of charger, board", "").replace(
        "not hang; machine", "board; machine"
    )
    text = text.replace("- a light is on\n", "").replace(
        "does board swap", "does board swop"
    )
    entry = parse(text, "no-light").entry
    assert entry is not None

    silent = [
        str(remark)
        for remark in checks.inspect(entry)
        if "does not say what it shows" in remark.problem
    ]
    thin = [
        remark.problem
        for remark in checks.inspect(entry)
        if "Not this if" in remark.problem
    ]
    strange = {remark.problem for remark in checks.inspect_library([entry])}

    assert silent == [
        "no-light.md:27: `Drain it well` does not say what it shows with charger; name each after an outcome, "
        "clear it with `not`, or put `says nothing of charger` in brackets"
    ]
    assert thin == ["`Not this if` has 2"]
    assert "there is no entry `backlight-dead`" in strange


def test_a_cause_of_another_sheet_must_be_there(marked: Entry) -> None:
    other = replace(marked, slug="no-image-machine-runs")

    told = [remark.problem for remark in checks.inspect_library([marked, other])]

    assert "`no-image-machine-runs` has no cause `panel`" in told


def test_deeds_and_minutes_are_held_against_the_house(
    marked: Entry, tmp_path: Path
) -> None:
    house = house_of(
        tmp_path,
        acts="- **take another charger** (9 min; 9 in 10): a good one.",
        cautions="## Cover off\n- Strap on.",
    )

    told = [remark.problem for remark in checks.inspect_customs(marked, house)]

    assert told == [
        "there is no deed `live measuring` among the house cautions",
        "there is no deed `live measuring` among the house cautions",
        "`Take another charger` takes 3 min and is trusted 0.95, the standard act `take another charger` 9 and 0.90",
    ]


def test_what_a_sheet_may_say_at_once_is_no_wish() -> None:
    assert wishes(GATED) == []


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("The charger is hot.", "12: `The charger is hot.` does not say what to do"),
        (
            "Charging it makes it worse.",
            "12: `Charging it makes it worse.` does not say what to do",
        ),
        ("pull the plug", "12: `pull the plug` does not say what to do"),
        ("Pull " + "the very long lead " * 8, "12: a deed has 156 characters"),
    ],
)
def test_a_deed_that_is_none_or_too_long_is_a_wish(line: str, told: str) -> None:
    assert wishes(GATED.replace("Pull the charger at the wall.", line.strip())) == [
        told
    ]


@pytest.mark.parametrize(
    "line",
    [
        "Do not press on it.",
        "If it smokes, clear the room.",
        "Keep away.",
        "Never open it.",
    ],
)
def test_a_deed_may_forbid_and_may_name_its_condition(line: str) -> None:
    assert wishes(GATED.replace("Pull the charger at the wall.", line)) == []


def test_more_than_three_deeds_and_none_at_all_are_wishes() -> None:
    many = GATED.replace(
        "- Pull the charger at the wall.\n",
        "- Pull it.\n- Leave it.\n- Keep away.\n- Call for help.\n",
    )
    none = GATED.replace("- Pull the charger at the wall.\n", "")

    assert wishes(many) == ["10: `At once` has 4 deeds"]
    assert wishes(none) == ["10: `At once` says nothing to do"]


@pytest.mark.parametrize(
    ("title", "detail"),
    [
        ("Press the pad in all four corners (2 min; first)", ""),
        ("Look at the lead (2 min; first; cover off)", ""),
        ("Look at the lead (2 min; first)", "Then charge it for ten minutes."),
        ("Measure the rail with the machine running (2 min; first)", ""),
    ],
)
def test_a_first_test_that_opens_presses_charges_or_measures_live_is_a_wish(
    title: str, detail: str
) -> None:
    told = wishes(
        GATED.replace(
            "Look at the lead (2 min; first)",
            f"{title}\n\n   {detail}" if detail else title,
        )
    )

    assert len(told) == 1
    assert "`first` test" in told[0]


def test_a_first_test_may_say_what_is_not_to_be_done() -> None:
    assert (
        wishes(
            GATED.replace(
                "(2 min; first)\n",
                "(2 min; first)\n\n   Do not press it, never charge it.\n",
            )
        )
        == []
    )


def test_a_test_that_comes_first_or_is_waited_for_may_take_longer_than_the_next(
    waiting: Entry,
) -> None:
    look, feed, measure = waiting.tests
    kept = replace(
        waiting, tests=(replace(look, minutes=9.0), replace(measure, minutes=8.0), feed)
    )
    stray = replace(
        waiting,
        tests=(
            replace(look, minutes=9.0),
            replace(measure, minutes=8.0),
            replace(feed, after=()),
        ),
    )

    def cheaper(entry: Entry) -> list[str]:
        return [
            one.problem for one in checks.inspect(entry) if "is cheaper" in one.problem
        ]

    assert cheaper(kept) == []
    assert cheaper(stray) == [
        "`Plug it in on the tested circuit` is cheaper than the test before it"
    ]


def test_an_urgent_line_is_a_deed_or_words() -> None:
    assert Urgent("Pull it.").said == ()
    assert Test("a", "A", 1, (Outcome("x"),)).after == ()
