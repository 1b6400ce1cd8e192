"""What machines cost: whole cents parted without a rest, and three figures that are never made one.

This machine (`Books.units`), a working machine of a lot (`each_working`), and what is tied up (`tied_up`).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from fractions import Fraction

from kb.machines.cost.accounts import UnitCost, added
from kb.machines.cost.books import Books


@dataclass(frozen=True, slots=True)
class Each:
    """What one of some machines costs, in cents: as likely as not, and the limits of how many there will be.

    `ahead` is how much of the likely figure is still to come.
    """

    low: int
    cents: int
    high: int
    ahead: int = 0


def of_the_lot(books: Books, lot: str) -> UnitCost:
    """Everything paid and worked on the lot that did not leave it in a part: its units, donors' rests and waste.

    The rows of all lots, the units of none, and the parts in the drawer add up to what was paid in.
    """
    tags = [tag for tag, of in books.lot_of.items() if of == lot]
    standing = [books.units.get(tag, UnitCost()) for tag in tags]
    lost = [books.written_off.get(tag, UnitCost()) for tag in tags]
    return added([*standing, *lost, UnitCost(share=books.lots.get(lot, 0))])


def each_working(cents: int, working: int) -> int | None:
    """What a working machine of a lot costs: all of the lot's cents over the machines that work; None for none.

    Machines given up, their rests and the waste are in it. Shown, never booked, so rounded here (halves to even).
    An invented lot of 36 at 864.00 of which 24 work, after 411.00 of parts and work:

    >>> each_working(86400 + 41100, 24), 86400 // 36
    (5312, 2400)
    """
    if working < 0:
        raise ValueError(f"{working} machines cannot work; give 0 or more")
    return round(Fraction(cents, working)) if working else None


def each_expected(
    cents: int, ahead_cents: int, few: int, working: int, many: int
) -> Each | None:
    """The same while a lot runs, a forecast: cents so far and cents ahead over the machines that will work.

    `few` and `many` are the limits of their number; the more will work, the less one costs. None where it may be
    that none works: then nothing can be said of one.

    >>> each_expected(86400, 30000, few=20, working=24, many=27)
    Each(low=4311, cents=4850, high=5820, ahead=1250)
    """
    if not few <= working <= many:
        raise ValueError(
            f"{few}, {working}, {many} do not rise; give the fewest, the likely and the most machines"
        )
    if few < 1:
        return None
    low, middle, high = (
        round(Fraction(cents + ahead_cents, count)) for count in (many, working, few)
    )
    return Each(low, middle, high, round(Fraction(ahead_cents, working)))


def tied_up(books: Books, done: Collection[str]) -> int:
    """The cents that stand on units neither done nor gone; the drawer is not in it.

    >>> from kb.machines.cost.books import booked
    >>> from kb.machines.cost.lots import LotPaid
    >>> from kb.machines.cost.moves import UnitGone
    >>> books = booked([LotPaid("P1", 9000, 0, {"P1-1": 1, "P1-2": 1, "P1-3": 1}), UnitGone("P1-3", "sold")])
    >>> tied_up(books, done=["P1-2"])
    3000
    """
    return sum(
        cost.cents
        for tag, cost in books.units.items()
        if tag not in done and tag not in books.gone
    )
