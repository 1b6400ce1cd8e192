"""Lots as they were paid and as units of them came in, and the share of its lot that every unit stands for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from kb.machines.cost.shares import Amount, exact, shared, whole_cents


@dataclass(frozen=True, slots=True)
class LotPaid:
    """A bill for a lot, one of several if need be, money back as a negative one; `weights` names units by tag."""

    lot: str
    cents: int
    freight_cents: int = 0
    weights: Mapping[str, Amount] = field(default_factory=dict)

    def __post_init__(self) -> None:
        whole_cents(self.cents, "a price")
        whole_cents(self.freight_cents, "a freight")
        for tag, weight in self.weights.items():
            exact(weight, f"a weight of {tag}")


@dataclass(frozen=True, slots=True)
class UnitIn:
    """A unit of a lot, told on its own or turned up later; told again, the last word holds."""

    lot: str
    tag: str
    weight: Amount = 1

    def __post_init__(self) -> None:
        exact(self.weight, f"a weight of {self.tag}")


@dataclass(frozen=True, slots=True)
class LotClosed:
    """The lot is complete: a unit of it that turns up later comes at no cost, and its units keep their shares.

    A bill that comes later still is parted among those units.
    """

    lot: str


LotMove = LotPaid | UnitIn | LotClosed


@dataclass(slots=True)
class LotShares:
    """What a lot cost, the weights of its units by tag, and those that came after it was closed."""

    cents: int = 0
    weights: dict[str, Amount] = field(default_factory=dict)
    late: set[str] = field(default_factory=set)
    closed: bool = False

    def shares(self) -> dict[str, int]:
        """The cents of each unit, ties by tag; none where no unit is known yet."""
        tags = sorted(self.weights)
        parts = shared(self.cents, [self.weights[tag] for tag in tags]) if tags else ()
        return dict(zip(tags, parts, strict=True)) | dict.fromkeys(self.late, 0)


def lots_told(moves: Iterable[LotMove]) -> dict[str, LotShares]:
    """Every lot with all its bills and units, as the last word has them.

    Two bills, and a unit that turned up later:

    >>> told = lots_told([LotPaid("P1", 900, 100, {"a": 1, "b": 1}), LotPaid("P1", 1), UnitIn("P1", "c", 0.5)])
    >>> told["P1"].shares()
    {'a': 401, 'b': 400, 'c': 200}
    """
    lots: dict[str, LotShares] = {}
    for move in moves:
        lot = lots.setdefault(move.lot, LotShares())
        if isinstance(move, LotPaid):
            lot.cents += move.cents + move.freight_cents
            for tag, weight in move.weights.items():
                _put(lots, lot, tag, weight)
        elif isinstance(move, UnitIn):
            _put(lots, lot, move.tag, move.weight)
        else:
            lot.closed = True
    return lots


def _put(
    lots: Mapping[str, LotShares], lot: LotShares, tag: str, weight: Amount
) -> None:
    """A unit into its lot and out of any other; closed lots keep the units and shares that they had."""
    if any(other.closed and tag in other.weights for other in lots.values()):
        return
    for other in lots.values():
        other.weights.pop(tag, None)
        other.late.discard(tag)
    if lot.closed:
        lot.late.add(tag)
    else:
        lot.weights[tag] = weight
