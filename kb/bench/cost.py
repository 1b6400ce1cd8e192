"""The desk for cost: what lots and machines cost, what is tied up, and what the next pallet may cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from kb.base.trouble import NotThere, Refusal
from kb.base.worded import worded
from kb.bench.machines import MachineDesk
from kb.bench.shop import Desk, Shop
from kb.history import kinds
from kb.history.intake import tag_key
from kb.history.record import Record
from kb.history.units import is_of_another
from kb.library.machine import CompleteMachine
from kb.machines.cost.accounts import UnitCost
from kb.machines.cost.bids import Bid, SeenMachine, bid
from kb.machines.cost.books import Books, booked
from kb.machines.cost.figures import tied_up
from kb.machines.cost.from_records import ShopRates, moves_told
from kb.machines.cost.lot_costs import (
    LotCost,
    MoneyOutcome,
    lot_costs,
    outcome_of,
    seen_machines,
)
from kb.machines.cost.money import cents_of
from kb.machines.cost.offers import offer_of
from kb.machines.cost.shares import Amount
from kb.machines.lots import lot_key
from kb.machines.units import FloorUnit


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """All that the shop's money is in: lots, machines by the key of their tag, and what is tied up, in whole cents."""

    currency: str
    hourly_cents: int
    lots: tuple[LotCost, ...]
    tied_up: int
    drawer: int
    paid_in: int
    books: Books
    seen: tuple[SeenMachine, ...]
    units: tuple[FloorUnit, ...]

    def unit(self, tag: str) -> UnitCost:
        """What one machine cost so far, whether it stands on it or was written off."""
        key = tag_key(tag)
        return self.books.units.get(key, UnitCost()) + self.books.written_off.get(
            key, UnitCost()
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PaidForLot:
    """What is said of the purchase of a lot, sums as a person writes them; what is empty stays as it was told."""

    paid: str = ""
    freight: str = ""
    bought_on: str = ""
    seller: str = ""


class CostDesk(Desk):
    """Where money is reckoned; what was reckoned is kept until the history, the settings or a house file changes."""

    def __init__(self, shop: Shop) -> None:
        super().__init__(shop)
        self._kept: tuple[object, Costs] | None = None

    def costs(self) -> Costs:
        """What everything cost so far."""
        shop = self.shop
        lists = shop.customs.check_list(), shop.customs.complete_machine()
        grounds = (shop.history().tip(), shop.settings, *lists)
        kept = self._kept
        if kept is None or kept[0] != grounds:
            kept = self._kept = (grounds, self._reckoned())
        return kept[1]

    def _reckoned(self) -> Costs:
        settings = self.shop.settings
        machines = MachineDesk(self.shop)
        units = machines.units()
        history = self.shop.history()
        own = history.own_shops()
        ours = (
            record
            for record in history.records_since()
            if not is_of_another(record, own)
        )
        told = moves_told(ours, machines.lots_told(), self._rates())
        books = booked(told.moves)
        seen = seen_machines(units, books, told.minutes)
        waiting = {
            unit.line.key
            for unit in units
            if unit.on_floor and outcome_of(unit) is MoneyOutcome.OPEN
        }
        done = [tag for tag in books.units if tag not in waiting]
        return Costs(
            currency=settings.currency,
            hourly_cents=settings.hourly_cents,
            lots=lot_costs(_by_lot(units), books, seen, settings.hourly_cents),
            tied_up=tied_up(books, done),
            drawer=sum(there.cents for there in books.drawer.values()),
            paid_in=books.paid_in,
            books=books,
            seen=seen,
            units=units,
        )

    def lot(self, name: str) -> LotCost:
        """What one lot cost; raises NotThere."""
        wanted = lot_key(name)
        found = next(
            (one for one in self.costs().lots if lot_key(one.lot) == wanted), None
        )
        if found is None:
            raise NotThere(
                worded(
                    "no machine came in a lot {name}; name one of the lots of this shop",
                    name=name.strip()[:60],
                )
            )
        return found

    def bought(self, lot: str, told: PaidForLot, token: str = "") -> Record:
        """Write down what was paid for a lot, when and to whom; a later one corrects what an earlier one said.

        Raises NotThere for a lot of which no machine came in, Refusal for a sum that is none and where nothing is said.
        """
        currency = self.shop.settings.currency
        body: dict[str, object] = {
            "bought_on": told.bought_on.strip(),
            "seller": told.seller.strip(),
        }
        body = {name: text for name, text in body.items() if text}
        for name, sum_told in (("cents", told.paid), ("freight_cents", told.freight)):
            if sum_told.strip():
                body[name] = cents_of(sum_told, currency)
        if not body:
            raise Refusal(
                worded("nothing was said of the purchase; write what was paid")
            )
        known = MachineDesk(self.shop).lot(lot).name
        return self.shop.history().note(kinds.LOT, "", {"lot": known, **body}, token)

    def bid(self, offer: str, freight_cents: int = 0, seed: int = 1) -> Bid:
        """What a pallet may cost, offered as CSV with the headings model, count and sale; the same each time.

        Refusal for an offer that cannot be read, and where no machine is done yet.
        """
        settings = self.shop.settings
        kept = self.shop.same_models().kept
        wanted = offer_of(
            offer, settings.hourly_cents, freight_cents, settings.currency, kept
        )
        seen = self.costs().seen
        if not seen:
            raise Refusal(
                worded(
                    "no machine is done yet, so nothing is known of what one costs; bid once some are"
                )
            )
        return bid(wanted, seen, seed)

    def _rates(self) -> ShopRates:
        listed = self.shop.customs.check_list()
        whole = self.shop.customs.complete_machine()
        return ShopRates(
            hourly_cents=self.shop.settings.hourly_cents,
            line_minutes={line.name: line.minutes for line in listed.lines},
            parts_of=partial(_weights, whole),
        )


def _weights(whole: CompleteMachine, model: str) -> dict[str, Amount]:
    """What each piece of a model weighs in its cost."""
    weights: dict[str, Amount] = {}
    for part in whole.parts(model):
        for number in range(1, part.count + 1):
            weights[part.name if number == 1 else f"{part.name} {number}"] = (
                part.weight / part.count
            )
    return weights


def _by_lot(units: tuple[FloorUnit, ...]) -> Mapping[str, list[FloorUnit]]:
    """The machines of each lot, under its name as the first of them has it."""
    lots: dict[str, list[FloorUnit]] = {}
    for unit in units:
        if unit.line.lot:
            lots.setdefault(lot_key(unit.line.lot), []).append(unit)
    return {units[0].line.lot: units for units in lots.values()}
