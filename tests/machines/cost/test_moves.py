"""Moves of cents between machines, drawer and what is lost."""

from __future__ import annotations

from typing import Any

import pytest
from helpers.booking import Noted, cents_by_tag, lot_of

from kb.machines.cost.accounts import InDrawer, UnitCost
from kb.machines.cost.books import booked
from kb.machines.cost.lots import LotPaid, UnitIn
from kb.machines.cost.moves import (
    GivenUp,
    PartOut,
    PiecesBought,
    PieceUsed,
    UnitGone,
    Worked,
)


def test_parts_bought_for_a_unit_and_out_of_the_drawer_at_the_moving_mean() -> None:
    """Two at 10.00 and one at 4.00 are 8.00 each (IAS 2 par. 25 and 27); the last piece takes the rest."""
    bought = [
        PiecesBought("fan", 2, 2000),
        PiecesBought("fan", 1, 401),
        PiecesBought("fan", 1, 999, tag="a"),
    ]

    books = booked(
        [
            *bought,
            PieceUsed("fan", "b"),
            PieceUsed("fan", "b"),
            PieceUsed("fan", "c"),
            PieceUsed("fan", "d"),
        ]
    )

    assert cents_by_tag(books) == {"a": 999, "b": 1600, "c": 801}
    assert books.drawer == {}
    assert books.refused == {
        6: "no fan is in the drawer for d; note the purchase first"
    }


def test_a_donors_part_in_the_drawer_is_a_piece_like_any_other() -> None:
    books = booked(
        [
            lot_of(1, 900),
            GivenUp("P1-00", {"fan": 1, "pad": 2}),
            PiecesBought("fan", 1, 500),
            PartOut("P1-00", "fan"),
        ]
    )

    assert books.drawer == {"fan": InDrawer(2, 800)}


def test_what_is_still_spent_on_a_lost_unit_is_lost_too_and_it_leaves_once() -> None:
    gone = UnitGone("P1-00", "returned")

    books = booked(
        [lot_of(1, 900), gone, Worked("P1-00", 1, 6000), UnitGone("P1-00", "sold")]
    )

    assert cents_by_tag(books) == {"P1-00": 0}
    assert books.written_off == {"P1-00": UnitCost(share=900, work=100)}
    assert books.refused == {3: "P1-00 left as returned already; take that back first"}


def test_a_sold_unit_keeps_its_cost_and_may_come_back_and_be_scrapped() -> None:
    sold: list[Noted] = [lot_of(1, 900), UnitGone("P1-00", "sold")]

    assert cents_by_tag(booked(sold)) == {"P1-00": 900}
    assert booked([*sold, UnitGone("P1-00", "waste")]).written_off == {
        "P1-00": UnitCost(share=900)
    }


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: LotPaid("P1", 9.5), "9.5 is not a price; give whole cents"),  # type: ignore[arg-type]
        (lambda: LotPaid("P1", 9, weights={"a": -1}), "-1 is not a weight of a"),
        (lambda: UnitIn("P1", "a", -1), "-1 is not a weight"),
        (lambda: PiecesBought("fan", 0, 10), "0 pieces are none"),
        (lambda: PiecesBought("fan", 1, -10), "-10 cents is no price of a part"),
        (lambda: GivenUp("a", {"pad": float("nan")}), "nan is not a weight of pad"),
        (lambda: Worked("a", -1, 100), "-1 is not a time in minutes"),
        (lambda: Worked("a", 1, -100), "-100 cents is no rate an hour"),
    ],
)
def test_moves_of_impossible_amounts_are_refused_where_they_are_made(
    make: Any, said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        make()
