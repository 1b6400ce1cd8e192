"""Books of small invented lots, in cents."""

from __future__ import annotations

from kb.machines.cost.books import Books
from kb.machines.cost.lots import LotMove, LotPaid
from kb.machines.cost.moves import (
    Move,
)

#: Anything that can be noted of money.
Noted = LotMove | Move


# The books.


def cents_by_tag(books: Books) -> dict[str, int]:
    return {tag: cost.cents for tag, cost in books.units.items()}


def lot_of(count: int, cents: int = 86400) -> LotPaid:
    return LotPaid(
        "P1", cents, weights={f"P1-{number:02}": 1 for number in range(count)}
    )
