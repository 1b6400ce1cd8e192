"""What lots cost: all that was paid and worked on each, what a working machine of it costs, and what is tied up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from kb.machines.cost.accounts import UnitCost
from kb.machines.cost.bids import SeenMachine, good_among
from kb.machines.cost.books import Books
from kb.machines.cost.figures import Each, each_expected, each_working, of_the_lot
from kb.machines.lots import lot_key
from kb.machines.units import FloorState, FloorUnit

#: Machines of all lots that the forecast of a running one leans on before any was seen, good and bad.
PRIOR = (2.0, 1.0)


class MoneyOutcome(StrEnum):
    """What became of a machine, as far as money asks."""

    WORKS = "works"
    LOST = "lost"
    OPEN = "open"


@dataclass(frozen=True, slots=True, kw_only=True)
class LotCost:
    """One lot: its machines by outcome, what was paid and worked on it, and what one working machine costs.

    `each` is None while it cannot be said that one works. It is a forecast as long as machines are open; its limits
    hold the true figure 8 times in 10, and are the figure itself once all are done.
    """

    lot: str
    works: int
    lost: int
    open: int
    cost: UnitCost
    each: Each | None

    @property
    def machines(self) -> int:
        """All of its machines."""
        return self.works + self.lost + self.open

    @property
    def is_forecast(self) -> bool:
        """Whether the figure a working machine is still a forecast."""
        return self.open > 0


def outcome_of(unit: FloorUnit) -> MoneyOutcome:
    """What became of a machine: it works once it is ready, sold or given; a donor is lost, and so is waste."""
    if unit.state is FloorState.READY or unit.line.gone in ("sold", "given"):
        return MoneyOutcome.WORKS
    if unit.state is FloorState.DONOR or unit.line.gone:
        return MoneyOutcome.LOST
    return MoneyOutcome.OPEN


def seen_machines(
    units: Iterable[FloorUnit], books: Books, minutes: Mapping[str, float]
) -> tuple[SeenMachine, ...]:
    """The machines that are done, as a bid reckons with them."""
    seen = []
    for unit in units:
        outcome = outcome_of(unit)
        if outcome is not MoneyOutcome.OPEN:
            key = unit.line.key
            parts = (
                books.units.get(key, UnitCost())
                + books.written_off.get(key, UnitCost())
            ).parts
            works = outcome is MoneyOutcome.WORKS
            lot = lot_key(unit.line.lot)
            seen.append(
                SeenMachine(
                    unit.line.model, works, minutes.get(key, 0.0), max(parts, 0), lot
                )
            )
    return tuple(seen)


def lot_costs(
    lots: Mapping[str, Iterable[FloorUnit]],
    books: Books,
    seen: Iterable[SeenMachine],
    hourly_cents: int,
) -> tuple[LotCost, ...]:
    """What each lot cost, in the order given; `seen` are the machines of all lots that are done."""
    done = list(seen)
    return tuple(
        _lot_cost(lot, list(units), books, done, hourly_cents)
        for lot, units in lots.items()
    )


def _lot_cost(
    lot: str,
    units: list[FloorUnit],
    books: Books,
    seen: list[SeenMachine],
    hourly_cents: int,
) -> LotCost:
    outcomes = [outcome_of(unit) for unit in units]
    works, lost, waiting = (outcomes.count(one) for one in MoneyOutcome)
    cost = of_the_lot(books, lot_key(lot))
    if waiting:
        each = _forecast(cost, works, waiting, seen, hourly_cents)
    else:
        cents = each_working(cost.cents, works)
        each = Each(cents, cents, cents) if cents is not None else None
    return LotCost(lot=lot, works=works, lost=lost, open=waiting, cost=cost, each=each)


def _forecast(
    cost: UnitCost, works: int, waiting: int, seen: list[SeenMachine], hourly_cents: int
) -> Each | None:
    """What a working machine will cost, by how often machines came good and what they took."""
    good = sum(machine.good for machine in seen)
    ahead = good_among(waiting, good, len(seen) - good, PRIOR)
    takes = [
        machine.parts_cents + machine.minutes * hourly_cents / 60 for machine in seen
    ]
    ahead_cents = round(sum(takes) / len(takes) * waiting) if takes else 0
    return each_expected(
        cost.cents,
        ahead_cents,
        few=works + ahead.low,
        working=works + ahead.median,
        many=works + ahead.high,
    )
