"""Accounts of donors and of what they gave."""

from __future__ import annotations

from helpers.booking import Noted, cents_by_tag, lot_of

from kb.machines.cost.accounts import UnitCost
from kb.machines.cost.books import booked
from kb.machines.cost.moves import (
    GivenUp,
    PartOut,
    TakenBack,
    UnitGone,
    Worked,
)


def test_parts_take_their_share_of_the_donor_with_them() -> None:
    """Invented: 864.00 over 36 are 24.00; the panel, 20 of 100, takes 4.80; then the keyboard, 8 of 80, 1.92."""
    panel, keyboard = (
        PartOut("P1-00", "panel", "P1-01"),
        PartOut("P1-00", "keyboard", "P1-02"),
    )

    books = booked(
        [
            lot_of(36),
            GivenUp("P1-00", {"panel": 20, "keyboard": 8, "rest": 72}),
            panel,
            keyboard,
        ]
    )

    assert cents_by_tag(books)["P1-00"] == 2400 - 480 - 192
    assert books.units["P1-01"] == UnitCost(share=2400, parts=480)
    assert books.units["P1-02"] == UnitCost(share=2400, parts=192)
    assert books.units["P1-00"] == UnitCost(share=2400, parts=-672)


def test_the_last_part_takes_the_rest_and_a_dead_one_nothing() -> None:
    given: list[Noted] = [
        lot_of(2, 1001),
        GivenUp("P1-00", {"board": 1, "lid": 1, "pad": 1}),
    ]

    dead = PartOut("P1-00", "board", "P1-01", dead=True)
    dead_first = booked([*given, dead, PartOut("P1-00", "lid", "P1-01")])
    emptied = booked(
        [*given, *(PartOut("P1-00", part, "P1-01") for part in ("pad", "lid", "board"))]
    )

    assert cents_by_tag(dead_first) == {"P1-00": 250, "P1-01": 500 + 251}
    assert cents_by_tag(emptied) == {"P1-00": 0, "P1-01": 1001}


def test_a_dead_last_part_leaves_the_rest_to_be_written_off_as_waste() -> None:
    books = booked(
        [
            lot_of(1, 900),
            GivenUp("P1-00", {"pad": 1}),
            PartOut("P1-00", "pad", dead=True),
            UnitGone("P1-00", "waste"),
        ]
    )

    assert cents_by_tag(books) == {"P1-00": 0}
    assert books.written_off == {"P1-00": UnitCost(share=900)}
    assert books.drawer == {}


def test_work_on_a_donor_leaves_it_with_its_parts_too() -> None:
    books = booked(
        [
            lot_of(1, 900),
            Worked("P1-00", 10, 3600),
            GivenUp("P1-00", {"pad": 1}),
            PartOut("P1-00", "pad", "X"),
        ]
    )

    assert cents_by_tag(books) == {"P1-00": 0, "X": 1500}


def test_a_part_leaves_a_donor_once_and_only_a_donor() -> None:
    out = PartOut("P1-00", "pad", "P1-01")

    books = booked(
        [
            lot_of(2, 1000),
            out,
            GivenUp("P1-00", {"pad": 1, "lid": 1}),
            out,
            out,
            PartOut("P1-00", "lid", "P1-00"),
        ]
    )

    assert cents_by_tag(books) == {"P1-00": 250, "P1-01": 750}
    assert list(books.refused) == [1, 4, 5]
    assert (
        books.refused[4] == "no pad is left in P1-00, or it is not given up for parts"
    )
    assert (
        books.refused[5]
        == "lid cannot go from P1-00 into itself; name the unit that got it"
    )


def test_a_unit_taken_back_gives_no_parts_until_it_is_given_up_again() -> None:
    given, out = GivenUp("P1-00", {"pad": 1, "lid": 1}), PartOut("P1-00", "pad", "X")

    books = booked(
        [
            lot_of(1, 100),
            TakenBack("P1-00"),
            given,
            given,
            TakenBack("P1-00"),
            out,
            given,
            out,
        ]
    )

    assert list(books.refused) == [1, 3, 5]
    assert cents_by_tag(books) == {"P1-00": 50, "X": 50}
