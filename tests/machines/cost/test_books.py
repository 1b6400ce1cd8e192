"""Books in which every cent is in exactly one place."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

import pytest
from helpers.booking import Noted

from kb.machines.cost.accounts import UnitCost
from kb.machines.cost.books import booked
from kb.machines.cost.figures import of_the_lot
from kb.machines.cost.lots import LotClosed, LotPaid, UnitIn
from kb.machines.cost.moves import (
    GivenUp,
    PartOut,
    PiecesBought,
    PieceUsed,
    TakenBack,
    UnitGone,
    Worked,
)
from kb.machines.cost.shares import worked_cents

# Every cent in exactly one place.


def _random_moves(chance: random.Random, count: int) -> list[Noted]:
    """Anything that can be noted in a shop of three lots and ten tags, sensible or not."""
    tags, lots, parts = (
        [f"t{number}" for number in range(10)],
        ["P1", "P2", "P3"],
        ["pad", "fan", "lid", "board"],
    )
    takers = ["", *tags]

    def weights(names: Sequence[str]) -> dict[str, float]:
        return {
            name: chance.choice([0, 1, 3, 0.7, 20])
            for name in chance.sample(names, chance.randint(1, len(names)))
        }

    makes: list[Callable[[], Noted]] = [
        lambda: LotPaid(
            chance.choice(lots),
            chance.randint(-50, 99_999),
            chance.randint(0, 900),
            weights(tags),
        ),
        lambda: UnitIn(
            chance.choice(lots), chance.choice(tags), chance.choice([0, 1, 2.5])
        ),
        lambda: (
            LotClosed(chance.choice(lots))
            if chance.random() < 0.2
            else UnitIn("P1", chance.choice(tags))
        ),
        lambda: PiecesBought(
            chance.choice(parts),
            chance.randint(1, 7),
            chance.randint(0, 999),
            chance.choice(takers),
        ),
        lambda: PieceUsed(chance.choice(parts), chance.choice(tags)),
        lambda: GivenUp(chance.choice(tags), weights(parts)),
        lambda: PartOut(
            chance.choice(tags),
            chance.choice(parts),
            chance.choice(takers),
            chance.random() < 0.2,
        ),
        lambda: PartOut(chance.choice(tags), chance.choice(parts), chance.choice(tags)),
        lambda: Worked(
            chance.choice(tags),
            chance.choice([0, 0.5, 7, 13.25]),
            chance.choice([0, 1999, 3600]),
        ),
        lambda: TakenBack(chance.choice(tags)),
        lambda: UnitGone(
            chance.choice(tags), chance.choice(["sold", "given", "waste", "returned"])
        ),
    ]
    return [chance.choice(makes)() for _ in range(count)]


@pytest.mark.slow
def test_two_thousand_random_books_have_every_cent_in_exactly_one_place() -> None:
    """Paid in is reckoned anew from the moves; units, lots, drawer and what is lost must hold just that."""
    refused = moved = 0
    for seed in range(2_000):
        chance = random.Random(seed)
        moves = _random_moves(chance, chance.randint(1, 120))

        books = booked(moves)

        paid = sum(_paid(move) for move in moves)
        assert books.paid_in == paid, seed
        assert books.standing == paid, seed
        lots = sum(
            of_the_lot(books, lot).cents
            for lot in {*books.lots, *books.lot_of.values()}
        )
        of_none = sum(
            books.units.get(tag, UnitCost()).cents
            + books.written_off.get(tag, UnitCost()).cents
            for tag in {*books.units, *books.written_off} - set(books.lot_of)
        )
        drawer = sum(there.cents for there in books.drawer.values())
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
    return (
        worked_cents(move.minutes, move.hourly_cents) if isinstance(move, Worked) else 0
    )
