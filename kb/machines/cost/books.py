"""The books of a shop out of all its moves: what stands on each unit, in the drawer, and what was written off.

Every cent that was paid in is in exactly one place: on a unit, on a lot without a unit, in the drawer, or written off
with a unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kb.machines.cost.accounts import Accounts, InDrawer, UnitCost, added
from kb.machines.cost.lots import LotMove, lots_told
from kb.machines.cost.moves import Move


@dataclass(frozen=True, slots=True, kw_only=True)
class Books:
    """Where all cents stand, in whole cents; units that are gone keep what they cost unless it was written off."""

    units: Mapping[str, UnitCost]
    #: What was paid for lots of which no unit is known yet.
    lots: Mapping[str, int]
    drawer: Mapping[str, InDrawer]
    #: What units cost that left for nothing, by tag.
    written_off: Mapping[str, UnitCost]
    paid_in: int
    #: The lot of each unit that belongs to one.
    lot_of: Mapping[str, str]
    gone: Mapping[str, str]
    #: Moves that could not be, by their place from 0, with the reason; they changed nothing.
    refused: Mapping[int, str]

    @property
    def standing(self) -> int:
        """All cents wherever they stand: always as many as were paid in."""
        of_units = added([*self.units.values(), *self.written_off.values()]).cents
        of_parts = sum(there.cents for there in self.drawer.values())
        return of_units + of_parts + sum(self.lots.values())


def booked(moves: Iterable[LotMove | Move]) -> Books:
    """The books after these moves, in their order.

    A lot's price and freight are parted among all its units that the moves name, largest remainder, ties by tag,
    from the beginning: a unit that turns up later changes the shares of the others, until the lot is closed.
    An invented lot of 36 at 864.00, with one of them given up for its parts (24.00; panel 20 of 100, keyboard 8):

    >>> from kb.machines.cost.lots import LotPaid
    >>> from kb.machines.cost.moves import GivenUp, PartOut
    >>> tags = [f"P1-{number:02}" for number in range(36)]
    >>> books = booked([
    ...     LotPaid("P1", 80000, 6400, dict.fromkeys(tags, 1)),
    ...     GivenUp("P1-00", {"panel": 20, "keyboard": 8, "rest": 72}),
    ...     PartOut("P1-00", "panel", "P1-01"),
    ...     PartOut("P1-00", "keyboard", "P1-02"),
    ... ])
    >>> [books.units[tag].cents for tag in tags[:4]]
    [1728, 2880, 2592, 2400]
    >>> books.paid_in, books.standing
    (86400, 86400)
    """
    told = list(moves)
    lots = lots_told(move for move in told if isinstance(move, LotMove))
    units, lot_of = {}, {}
    for name, lot in lots.items():
        for tag, cents in lot.shares().items():
            units[tag], lot_of[tag] = UnitCost(share=cents), name
    accounts = Accounts(units=units)
    refused = _booked_moves(told, accounts)
    return Books(
        units=accounts.units,
        lots={name: lot.cents for name, lot in lots.items() if not lot.weights},
        drawer={part: there for part, there in accounts.drawer.items() if there.count},
        written_off=accounts.written_off,
        paid_in=accounts.paid_in + sum(lot.cents for lot in lots.values()),
        lot_of=lot_of,
        gone=accounts.gone,
        refused=refused,
    )


def _booked_moves(told: Sequence[LotMove | Move], accounts: Accounts) -> dict[int, str]:
    """Book what is no lot's move, in order; gives the places of those that were refused, with the reason."""
    refused: dict[int, str] = {}
    for place, move in enumerate(told):
        if isinstance(move, LotMove):
            continue
        reason = move.book(accounts)
        if reason:
            refused[place] = reason
    return refused
