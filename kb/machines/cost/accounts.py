"""Accounts under way: where every cent paid in stands while moves are booked, each cent in exactly one place."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from kb.machines.cost.shares import Amount, piece, shared

#: Ways to leave that bring nothing in: what such a unit cost is lost.
LOST = ("waste", "returned")


@dataclass(frozen=True, slots=True)
class UnitCost:
    """What stands on one place, in cents by where it came from; `parts` falls below 0 where parts were given away."""

    share: int = 0
    parts: int = 0
    work: int = 0

    @property
    def cents(self) -> int:
        """All of it."""
        return self.share + self.parts + self.work

    def __add__(self, other: UnitCost) -> UnitCost:
        return UnitCost(
            self.share + other.share, self.parts + other.parts, self.work + other.work
        )


def added(costs: Iterable[UnitCost]) -> UnitCost:
    """The sum of some costs.

    >>> added([UnitCost(2400, 0, 600), UnitCost(0, 480)])
    UnitCost(share=2400, parts=480, work=600)
    """
    return sum(costs, UnitCost())


@dataclass(frozen=True, slots=True)
class InDrawer:
    """The pieces of one part in the drawer and what they cost together."""

    count: int = 0
    cents: int = 0


@dataclass(slots=True)
class Accounts:
    """The places of all cents: units and drawer, what was written off, and how much was paid in."""

    units: dict[str, UnitCost] = field(default_factory=dict)
    drawer: dict[str, InDrawer] = field(default_factory=dict)
    written_off: dict[str, UnitCost] = field(default_factory=dict)
    #: For each unit given up for parts the parts still in it, with what each weighs.
    donors: dict[str, dict[str, Amount]] = field(default_factory=dict)
    gone: dict[str, str] = field(default_factory=dict)
    paid_in: int = 0

    def unit(self, tag: str) -> UnitCost:
        """What stands on the unit."""
        return self.units.get(tag, UnitCost())

    def charge(self, tag: str, cost: UnitCost) -> None:
        """Put a cost on a unit; nothing stays on a lost one, it is written off at once."""
        self.units[tag] = self.unit(tag) + cost
        if self.is_lost(tag):
            self.write_off(tag)

    def is_lost(self, tag: str) -> bool:
        """Whether the unit left for nothing."""
        return self.gone.get(tag) in LOST

    def write_off(self, tag: str) -> None:
        """Take all that stands on the unit off it."""
        self.written_off[tag] = self.written_off.get(tag, UnitCost()) + self.unit(tag)
        self.units[tag] = UnitCost()

    def put_away(self, part: str, count: int, cents: int) -> None:
        """Lay pieces of a part into the drawer."""
        there = self.drawer.get(part, InDrawer())
        self.drawer[part] = InDrawer(there.count + count, there.cents + cents)

    def in_drawer(self, part: str) -> int:
        """How many pieces of the part are in the drawer."""
        return self.drawer.get(part, InDrawer()).count

    def next_piece(self, part: str) -> int:
        """Take a piece that is there out of the drawer and tell what it cost, at the moving mean."""
        there = self.drawer[part]
        cents = piece(there.cents, there.count)
        self.drawer[part] = replace(
            there, count=there.count - 1, cents=there.cents - cents
        )
        return cents

    def out_of_donor(self, donor: str, part: str, dead: bool) -> int | None:
        """Take a part out of a donor and tell what leaves with it; None if it is not in there.

        Of what stands on the donor now the part's weight among the parts still in it; the last one takes the rest,
        a dead one nothing.
        """
        parts = self.donors.get(donor, {})
        if part not in parts:
            return None
        cents = (
            0
            if dead
            else shared(self.unit(donor).cents, list(parts.values()))[
                list(parts).index(part)
            ]
        )
        del parts[part]
        self.charge(donor, UnitCost(parts=-cents))
        return cents
