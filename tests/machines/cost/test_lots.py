"""Lots shared out over their machines, however late one turns up."""

from __future__ import annotations

from helpers.booking import Noted, cents_by_tag, lot_of

from kb.machines.cost.books import booked
from kb.machines.cost.figures import of_the_lot
from kb.machines.cost.lots import LotClosed, LotPaid, UnitIn
from kb.machines.cost.moves import (
    GivenUp,
    PartOut,
)


def test_a_unit_that_turns_up_later_shares_the_lot_from_the_beginning() -> None:
    moves: list[Noted] = [
        lot_of(2, 1000),
        GivenUp("P1-00", {"pad": 1}),
        PartOut("P1-00", "pad", "P1-01"),
    ]

    books = booked([*moves, UnitIn("P1", "P1-02")])

    assert cents_by_tag(books) == {"P1-00": 0, "P1-01": 333 + 334, "P1-02": 333}


def test_a_closed_lot_keeps_its_shares_and_later_units_come_at_no_cost() -> None:
    books = booked(
        [
            lot_of(2, 1000),
            LotClosed("P1"),
            UnitIn("P1", "P1-02"),
            UnitIn("P1", "P1-00", 9),
            UnitIn("P2", "P1-01"),
        ]
    )

    assert cents_by_tag(books) == {"P1-00": 500, "P1-01": 500, "P1-02": 0}
    assert set(books.lot_of.values()) == {"P1"}


def test_several_bills_and_money_back_make_one_price_shared_by_weights_with_ties_by_tag() -> (
    None
):
    bills = [LotPaid("P1", 900, 100), LotPaid("P1", 0, 50), LotPaid("P1", -49)]
    units = [
        UnitIn("P1", "b"),
        UnitIn("P1", "a"),
        UnitIn("P1", "c", 0.5),
        UnitIn("P1", "c", 0),
    ]

    books = booked([*units, *bills])

    assert cents_by_tag(books) == {"a": 501, "b": 500, "c": 0}
    assert books.paid_in == 1001


def test_a_unit_told_in_another_lot_moves_there_and_a_lot_without_units_holds_its_own_cents() -> (
    None
):
    books = booked(
        [LotPaid("P1", 100), UnitIn("P1", "a"), LotPaid("P2", 40), UnitIn("P2", "a")]
    )

    assert cents_by_tag(books) == {"a": 40}
    assert books.lots == {"P1": 100}
    assert of_the_lot(books, "P1").cents == 100
