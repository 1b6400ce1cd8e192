"""Costs: cents parted without a rest, the books of invented shops, and the three figures.

Largest remainder is Hamilton's method; parts at cost follow IAS 2 par. 14 and 23 to 27 (both from memory).
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.machines.cost.accounts import InDrawer, UnitCost
from kb.machines.cost.books import Books, booked
from kb.machines.cost.figures import each_expected, each_working, of_the_lot, tied_up
from kb.machines.cost.lots import LotClosed, LotMove, LotPaid, UnitIn
from kb.machines.cost.moves import (
    GivenUp,
    Move,
    PartOut,
    PiecesBought,
    PiecesDiscarded,
    PieceUsed,
    TakenBack,
    UnitGone,
    Worked,
    WrittenOff,
)
from kb.machines.cost.shares import piece, shared, worked_cents

#: Anything that can be noted of money.
Noted = LotMove | Move

# Sharing.


@pytest.mark.parametrize(
    ("cents", "weights", "parts"),
    [
        (10000, [3, 3, 3], (3334, 3333, 3333)),
        (86401, [3, 1, 7, 2], (19939, 6646, 46524, 13292)),
        (7, [1, 1, 1, 1], (2, 2, 2, 1)),
        (0, [1, 2], (0, 0)),
        (5, [0, 0, 0], (2, 2, 1)),
        (5, [0, 3, 0], (0, 5, 0)),
        (-10000, [3, 3, 3], (-3334, -3333, -3333)),
        (0, [], ()),
        (2, [0.1, 0.3], (1, 1)),
        (100, [Decimal("0.1"), Fraction(2, 10)], (33, 67)),
        (10**30 + 1, [1, 1], ((10**30) // 2 + 1, 10**30 // 2)),
    ],
)
def test_cents_are_parted_by_largest_remainder(cents: int, weights: list[Any], parts: tuple[int, ...]) -> None:
    assert shared(cents, weights) == parts


def test_seats_are_parted_as_in_the_textbook_example_of_the_method() -> None:
    """The paradox of Alabama's house: of 26 seats by 9061, 7179, 5259, 3319, 1182 the parts 9, 7, 5, 4, 1, and of 27
    seats 9, 8, 6, 3, 1: one more seat takes one away (Balinski & Young 1982, table, from memory)."""
    people = [9061, 7179, 5259, 3319, 1182]

    assert shared(26, people) == (9, 7, 5, 4, 1)
    assert shared(27, people) == (9, 8, 6, 3, 1)


WEIGHTS = st.lists(st.one_of(st.integers(0, 10**6), st.floats(0, 1e6)), min_size=1, max_size=12)


@given(st.integers(-(10**12), 10**12), WEIGHTS)
@settings(max_examples=300)
def test_parts_are_whole_add_up_and_are_never_a_cent_off_their_quota(cents: int, weights: Sequence[float]) -> None:
    parts = shared(cents, weights)

    assert sum(parts) == cents
    exact = [Fraction(str(weight)) for weight in weights]
    if any(exact):
        assert all(abs(part - cents * one / sum(exact)) < 1 for part, one in zip(parts, exact, strict=True))
        assert all(part == 0 for part, one in zip(parts, exact, strict=True) if not one)
    else:
        assert max(parts) - min(parts) <= 1


@pytest.mark.parametrize(
    ("cents", "weights", "said"),
    [
        (12.5, [1], "12.5 is not a sum to share; give whole cents, 12.50 as 1250"),
        (10, [], "10 cents and nobody to share them"),
        (10, [1, -1], "-1 is not a weight; give a number of 0 or more"),
        (10, [float("nan")], "nan is not a weight"),
        (10, [float("inf")], "inf is not a weight"),
    ],
)
def test_sums_that_cannot_be_parted_are_refused_with_a_sentence(cents: Any, weights: list[Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        shared(cents, weights)


@pytest.mark.parametrize(
    ("minutes", "hourly", "cents"),
    [(10, 3600, 600), (0.5, 300, 2), (1.5, 300, 8), (0.1, 300, 0), (7, 3500, 408), (0, 3600, 0)],
)
def test_minutes_are_rounded_once_and_halves_to_the_even_cent(minutes: float, hourly: int, cents: int) -> None:
    """0.1 minutes are six seconds and no binary fraction near them: half a cent at 3.00 an hour, to the even 0."""
    assert worked_cents(minutes, hourly) == cents


@given(st.integers(0, 10**6), st.integers(1, 40))
def test_pieces_taken_one_by_one_cost_what_they_cost_together(cents: int, count: int) -> None:
    taken = []
    left = cents
    for there in range(count, 0, -1):
        taken.append(piece(left, there))
        left -= taken[-1]

    assert left == 0
    assert max(taken) - min(taken) <= 1


# The books.


def _cents(books: Books) -> dict[str, int]:
    return {tag: cost.cents for tag, cost in books.units.items()}


def _lot(count: int, cents: int = 86400) -> LotPaid:
    return LotPaid("P1", cents, weights={f"P1-{number:02}": 1 for number in range(count)})


def test_parts_take_their_share_of_the_donor_with_them() -> None:
    """Invented: 864.00 over 36 are 24.00; the panel, 20 of 100, takes 4.80; then the keyboard, 8 of 80, 1.92."""
    panel, keyboard = PartOut("P1-00", "panel", "P1-01"), PartOut("P1-00", "keyboard", "P1-02")

    books = booked([_lot(36), GivenUp("P1-00", {"panel": 20, "keyboard": 8, "rest": 72}), panel, keyboard])

    assert _cents(books)["P1-00"] == 2400 - 480 - 192
    assert books.units["P1-01"] == UnitCost(share=2400, parts=480)
    assert books.units["P1-02"] == UnitCost(share=2400, parts=192)
    assert books.units["P1-00"] == UnitCost(share=2400, parts=-672)


def test_the_last_part_takes_the_rest_and_a_dead_one_nothing() -> None:
    given: list[Noted] = [_lot(2, 1001), GivenUp("P1-00", {"board": 1, "lid": 1, "pad": 1})]

    dead = PartOut("P1-00", "board", "P1-01", dead=True)
    dead_first = booked([*given, dead, PartOut("P1-00", "lid", "P1-01")])
    emptied = booked([*given, *(PartOut("P1-00", part, "P1-01") for part in ("pad", "lid", "board"))])

    assert _cents(dead_first) == {"P1-00": 250, "P1-01": 500 + 251}
    assert _cents(emptied) == {"P1-00": 0, "P1-01": 1001}


def test_a_dead_last_part_leaves_the_rest_to_be_written_off_as_waste() -> None:
    books = booked(
        [_lot(1, 900), GivenUp("P1-00", {"pad": 1}), PartOut("P1-00", "pad", dead=True), UnitGone("P1-00", "waste")]
    )

    assert _cents(books) == {"P1-00": 0}
    assert books.written_off == {"P1-00": UnitCost(share=900)}
    assert books.drawer == {}


def test_work_on_a_donor_leaves_it_with_its_parts_too() -> None:
    books = booked(
        [_lot(1, 900), Worked("P1-00", 10, 3600), GivenUp("P1-00", {"pad": 1}), PartOut("P1-00", "pad", "X")]
    )

    assert _cents(books) == {"P1-00": 0, "X": 1500}


def test_a_part_leaves_a_donor_once_and_only_a_donor() -> None:
    out = PartOut("P1-00", "pad", "P1-01")

    books = booked(
        [_lot(2, 1000), out, GivenUp("P1-00", {"pad": 1, "lid": 1}), out, out, PartOut("P1-00", "lid", "P1-00")]
    )

    assert _cents(books) == {"P1-00": 250, "P1-01": 750}
    assert list(books.refused) == [1, 4, 5]
    assert books.refused[4] == "no pad is left in P1-00, or it is not given up for parts"
    assert books.refused[5] == "lid cannot go from P1-00 into itself; name the unit that got it"


def test_a_unit_taken_back_gives_no_parts_until_it_is_given_up_again() -> None:
    given, out = GivenUp("P1-00", {"pad": 1, "lid": 1}), PartOut("P1-00", "pad", "X")

    books = booked([_lot(1, 100), TakenBack("P1-00"), given, given, TakenBack("P1-00"), out, given, out])

    assert list(books.refused) == [1, 3, 5]
    assert _cents(books) == {"P1-00": 50, "X": 50}


def test_a_unit_that_turns_up_later_shares_the_lot_from_the_beginning() -> None:
    moves: list[Noted] = [_lot(2, 1000), GivenUp("P1-00", {"pad": 1}), PartOut("P1-00", "pad", "P1-01")]

    books = booked([*moves, UnitIn("P1", "P1-02")])

    assert _cents(books) == {"P1-00": 0, "P1-01": 333 + 334, "P1-02": 333}


def test_a_closed_lot_keeps_its_shares_and_later_units_come_at_no_cost() -> None:
    books = booked(
        [_lot(2, 1000), LotClosed("P1"), UnitIn("P1", "P1-02"), UnitIn("P1", "P1-00", 9), UnitIn("P2", "P1-01")]
    )

    assert _cents(books) == {"P1-00": 500, "P1-01": 500, "P1-02": 0}
    assert set(books.lot_of.values()) == {"P1"}


def test_several_bills_and_money_back_make_one_price_shared_by_weights_with_ties_by_tag() -> None:
    bills = [LotPaid("P1", 900, 100), LotPaid("P1", 0, 50), LotPaid("P1", -49)]
    units = [UnitIn("P1", "b"), UnitIn("P1", "a"), UnitIn("P1", "c", 0.5), UnitIn("P1", "c", 0)]

    books = booked([*units, *bills])

    assert _cents(books) == {"a": 501, "b": 500, "c": 0}
    assert books.paid_in == 1001


def test_a_unit_told_in_another_lot_moves_there_and_a_lot_without_units_holds_its_own_cents() -> None:
    books = booked([LotPaid("P1", 100), UnitIn("P1", "a"), LotPaid("P2", 40), UnitIn("P2", "a")])

    assert _cents(books) == {"a": 40}
    assert books.lots == {"P1": 100}
    assert of_the_lot(books, "P1").cents == 100


def test_parts_bought_for_a_unit_and_out_of_the_drawer_at_the_moving_mean() -> None:
    """Two at 10.00 and one at 4.00 are 8.00 each (IAS 2 par. 25 and 27); the last piece takes the rest."""
    bought = [PiecesBought("fan", 2, 2000), PiecesBought("fan", 1, 401), PiecesBought("fan", 1, 999, tag="a")]

    books = booked(
        [*bought, PieceUsed("fan", "b"), PieceUsed("fan", "b"), PieceUsed("fan", "c"), PieceUsed("fan", "d")]
    )

    assert _cents(books) == {"a": 999, "b": 1600, "c": 801}
    assert books.drawer == {}
    assert books.refused == {6: "no fan is in the drawer for d; note the purchase first"}


def test_a_donors_part_in_the_drawer_is_a_piece_like_any_other() -> None:
    books = booked(
        [_lot(1, 900), GivenUp("P1-00", {"fan": 1, "pad": 2}), PiecesBought("fan", 1, 500), PartOut("P1-00", "fan")]
    )

    assert books.drawer == {"fan": InDrawer(2, 800)}


def test_pieces_thrown_away_are_lost_and_never_more_than_there_are() -> None:
    books = booked([PiecesBought("fan", 2, 101), PiecesDiscarded("fan", 3), PiecesDiscarded("fan")])

    assert books.discarded == {"fan": 50}
    assert books.drawer == {"fan": InDrawer(1, 51)}
    assert books.refused == {1: "fewer than 3 fan are in the drawer; count them again"}


def test_what_is_still_spent_on_a_lost_unit_is_lost_too_and_it_leaves_once() -> None:
    gone = UnitGone("P1-00", "returned")

    books = booked([_lot(1, 900), gone, Worked("P1-00", 1, 6000), UnitGone("P1-00", "sold")])

    assert _cents(books) == {"P1-00": 0}
    assert books.written_off == {"P1-00": UnitCost(share=900, work=100)}
    assert books.refused == {3: "P1-00 left as returned already; take that back first"}


def test_a_unit_written_off_holds_what_is_spent_on_it_later() -> None:
    books = booked([_lot(1, 900), WrittenOff("P1-00"), Worked("P1-00", 1, 6000)])

    assert _cents(books) == {"P1-00": 100}
    assert books.written_off == {"P1-00": UnitCost(share=900)}


def test_a_sold_unit_keeps_its_cost_and_may_come_back_and_be_scrapped() -> None:
    sold: list[Noted] = [_lot(1, 900), UnitGone("P1-00", "sold")]

    assert _cents(booked(sold)) == {"P1-00": 900}
    assert booked([*sold, UnitGone("P1-00", "waste")]).written_off == {"P1-00": UnitCost(share=900)}


@pytest.mark.parametrize(
    ("make", "said"),
    [
        (lambda: LotPaid("P1", 9.5), "9.5 is not a price; give whole cents"),  # type: ignore[arg-type]
        (lambda: LotPaid("P1", 9, weights={"a": -1}), "-1 is not a weight of a"),
        (lambda: UnitIn("P1", "a", -1), "-1 is not a weight"),
        (lambda: PiecesBought("fan", 0, 10), "0 pieces are none"),
        (lambda: PiecesBought("fan", 1, -10), "-10 cents is no price of a part"),
        (lambda: PiecesDiscarded("fan", -1), "-1 pieces are none"),
        (lambda: GivenUp("a", {"pad": float("nan")}), "nan is not a weight of pad"),
        (lambda: Worked("a", -1, 100), "-1 is not a time in minutes"),
        (lambda: Worked("a", 1, -100), "-100 cents is no rate an hour"),
    ],
)
def test_moves_of_impossible_amounts_are_refused_where_they_are_made(make: Any, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        make()


# Every cent in exactly one place.


def _random_moves(chance: random.Random, count: int) -> list[Noted]:
    """Anything that can be noted in a shop of three lots and ten tags, sensible or not."""
    tags, lots, parts = [f"t{number}" for number in range(10)], ["P1", "P2", "P3"], ["pad", "fan", "lid", "board"]
    takers = ["", *tags]

    def weights(names: Sequence[str]) -> dict[str, float]:
        return {name: chance.choice([0, 1, 3, 0.7, 20]) for name in chance.sample(names, chance.randint(1, len(names)))}

    makes: list[Callable[[], Noted]] = [
        lambda: LotPaid(chance.choice(lots), chance.randint(-50, 99_999), chance.randint(0, 900), weights(tags)),
        lambda: UnitIn(chance.choice(lots), chance.choice(tags), chance.choice([0, 1, 2.5])),
        lambda: LotClosed(chance.choice(lots)) if chance.random() < 0.2 else UnitIn("P1", chance.choice(tags)),
        lambda: PiecesBought(chance.choice(parts), chance.randint(1, 7), chance.randint(0, 999), chance.choice(takers)),
        lambda: PieceUsed(chance.choice(parts), chance.choice(tags)),
        lambda: PiecesDiscarded(chance.choice(parts), chance.randint(1, 3)),
        lambda: GivenUp(chance.choice(tags), weights(parts)),
        lambda: PartOut(chance.choice(tags), chance.choice(parts), chance.choice(takers), chance.random() < 0.2),
        lambda: PartOut(chance.choice(tags), chance.choice(parts), chance.choice(tags)),
        lambda: Worked(chance.choice(tags), chance.choice([0, 0.5, 7, 13.25]), chance.choice([0, 1999, 3600])),
        lambda: TakenBack(chance.choice(tags)) if chance.random() < 0.5 else WrittenOff(chance.choice(tags)),
        lambda: UnitGone(chance.choice(tags), chance.choice(["sold", "given", "waste", "returned"])),
    ]
    return [chance.choice(makes)() for _ in range(count)]


def test_two_thousand_random_books_have_every_cent_in_exactly_one_place() -> None:
    """Paid in is reckoned anew from the moves; units, lots, drawer, lost and discarded must hold just that."""
    refused = moved = 0
    for seed in range(2_000):
        chance = random.Random(seed)
        moves = _random_moves(chance, chance.randint(1, 120))

        books = booked(moves)

        paid = sum(_paid(move) for move in moves)
        assert books.paid_in == paid, seed
        assert books.standing == paid, seed
        lots = sum(of_the_lot(books, lot).cents for lot in {*books.lots, *books.lot_of.values()})
        of_none = sum(
            books.units.get(tag, UnitCost()).cents + books.written_off.get(tag, UnitCost()).cents
            for tag in {*books.units, *books.written_off} - set(books.lot_of)
        )
        drawer = sum(there.cents for there in books.drawer.values()) + sum(books.discarded.values())
        assert lots + of_none + drawer == paid, seed
        refused += len(books.refused)
        moved += sum(1 for cost in books.units.values() if cost.parts < 0)
    assert refused > 1_000
    assert moved > 100


def _paid(move: Noted) -> int:
    if isinstance(move, LotPaid):
        return move.cents + move.freight_cents
    if isinstance(move, PiecesBought):
        return move.cents
    return worked_cents(move.minutes, move.hourly_cents) if isinstance(move, Worked) else 0


# The three figures.


def test_the_three_figures_are_three() -> None:
    """Invented: a lot of four, one sold, one works, one given up for its pad, one still waiting."""
    moves: list[Noted] = [
        _lot(4, 8000),
        Worked("P1-00", 20, 3000),
        GivenUp("P1-02", {"pad": 1, "rest": 3}),
        PartOut("P1-02", "pad", "P1-00"),
        UnitGone("P1-02", "waste"),
        UnitGone("P1-00", "sold"),
    ]

    books = booked(moves)

    assert books.units["P1-00"].cents == 2000 + 1000 + 500
    assert each_working(of_the_lot(books, "P1").cents, working=2) == 4500
    assert tied_up(books, done=["P1-01"]) == 2000


def test_nothing_is_said_of_one_machine_where_none_may_work() -> None:
    assert each_working(5000, 0) is None
    assert each_expected(5000, 100, few=0, working=2, many=4) is None


def test_limits_of_a_forecast_rise() -> None:
    with pytest.raises(ValueError, match="5, 4, 6 do not rise"):
        each_expected(5000, 100, few=5, working=4, many=6)
