"""The command for money: what lots and machines cost, what is tied up, and what the next pallet may cost."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli import slips
from kb.cli.options import end_with, json_option, shop_option
from kb.cli.rows import Shape, csv_option
from kb.cli.text import counted
from kb.machines.cost.money import cents_of, spoken

if TYPE_CHECKING:
    from kb.bench.cost import Costs
    from kb.bench.front import Bench
    from kb.machines.cost.accounts import UnitCost
    from kb.machines.cost.bids import Bid
    from kb.machines.cost.lot_costs import LotCost
    from kb.machines.units import FloorUnit


@click.command()
@click.option(
    "--lot",
    default="",
    metavar="LOT",
    help="One lot with its machines; all lots without it.",
)
@click.option(
    "--bid",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    metavar="FILE",
    help="An offered pallet as CSV with the headings model, count and sale.",
)
@click.option(
    "--freight",
    default="0",
    metavar="SUM",
    help="With --bid: what bringing it here costs, such as 64.00.",
)
@csv_option
@json_option
@shop_option
def cost(
    bench: Bench,
    *,
    lot: str,
    bid: Path | None,
    freight: str,
    as_json: bool,
    as_csv: bool,
) -> None:
    """Show what lots and machines cost, or what an offered pallet may cost at most.

    What an hour of work costs and the currency are set by `benchlore settings --hour 36.00 --currency EUR`.

    Example: benchlore cost --lot P7
    """
    currency = bench.shop.settings.currency
    shape = Shape(as_json=as_json, as_csv=as_csv)
    if bid is not None:
        from kb.machines.typed_lists import decoded

        found = bench.cost.bid(decoded(bid.read_bytes()), cents_of(freight, currency))
        shape.tell(of_bid(found), bid_lines(found, currency))
        return
    costs = bench.cost.costs()
    if lot:
        slips.refuse_an_unknown_lot(bench, lot)
        one = bench.cost.lot(lot)
        units = of_units(costs, one.lot)
        shape.tell(
            of_lot_cost(one) | {"units": units}, lot_lines(costs, one), rows=units
        )
    else:
        shape.tell(
            of_costs(costs),
            cost_lines(costs),
            rows=[of_lot_row(one) for one in costs.lots],
        )
    end_with(costs.lots)


def of_costs(costs: Costs) -> dict[str, Any]:
    """The JSON of all costs, in whole cents."""
    return {
        "currency": costs.currency or None,
        "hourly_cents": costs.hourly_cents,
        "lots": [of_lot_cost(one) for one in costs.lots],
        "tied_up": costs.tied_up,
        "drawer": costs.drawer,
        "paid_in": costs.paid_in,
    }


def of_lot_cost(one: LotCost) -> dict[str, Any]:
    """The JSON of what a lot cost, in whole cents; `working_machine` is null while nothing can be said of one."""
    each = (
        {"low": one.each.low, "cents": one.each.cents, "high": one.each.high}
        if one.each
        else None
    )
    return {
        "lot": one.lot,
        "works": one.works,
        "lost": one.lost,
        "open": one.open,
        "paid": one.cost.share,
        "parts": one.cost.parts,
        "work": one.cost.work,
        "cents": one.cost.cents,
        "working_machine": each,
        "forecast": one.is_forecast,
    }


def of_lot_row(one: LotCost) -> dict[str, Any]:
    """What a lot cost as one row: the limits of a working machine are columns of their own."""
    row = of_lot_cost(one)
    each = row.pop("working_machine") or {}
    return row | {
        f"working_machine_{name}": each.get(name) for name in ("low", "cents", "high")
    }


def of_units(costs: Costs, lot: str) -> list[dict[str, Any]]:
    """The JSON of what each machine of a lot cost, in whole cents."""
    from kb.machines.lots import lot_key

    units = [unit for unit in costs.units if lot_key(unit.line.lot) == lot_key(lot)]
    return [_of_unit(unit, costs.unit(unit.line.tag)) for unit in units]


def _of_unit(unit: FloorUnit, cost: UnitCost) -> dict[str, Any]:
    return {
        "tag": unit.line.tag,
        "model": unit.line.model or None,
        "paid": cost.share,
        "parts": cost.parts,
        "work": cost.work,
        "cents": cost.cents,
    }


def of_bid(found: Bid) -> dict[str, Any]:
    """The JSON of a bid, in whole cents."""
    return {
        "median": found.median,
        "holds": found.holds,
        "low": found.low,
        "high": found.high,
        "unseen": list(found.unseen),
    }


def cost_lines(costs: Costs) -> Iterator[str]:
    """All lots, what is tied up, and what lies in the drawer."""
    yield "lot         machines  works  open         cost  a working machine"
    for one in costs.lots:
        cents = spoken(one.cost.cents)
        yield f"{one.lot[:10]:10s}  {one.machines:8d}  {one.works:5d}  {one.open:4d}  {cents:>11s}  {each_told(one)}"
    yield ""
    yield f"tied up in machines not done: {spoken(costs.tied_up, costs.currency)}"
    yield f"parts in the drawer:          {spoken(costs.drawer, costs.currency)}"
    yield from (no_price_told(one) for one in costs.lots if not one.cost.share)
    if not costs.hourly_cents:
        yield "Work costs nothing yet: benchlore settings --hour 36.00 says what an hour costs."


def no_price_told(one: LotCost) -> str:
    """That a lot is reckoned as if it had cost nothing, and what mends that."""
    return f"Nothing is written down that was paid for {one.lot}: benchlore lot {shlex.quote(one.lot)} --paid 864.00"


def each_told(one: LotCost) -> str:
    """What a working machine of a lot costs, in words."""
    if one.each is None:
        return "not to be said yet" if one.is_forecast else "none works"
    if not one.is_forecast:
        return spoken(one.each.cents)
    low, high = spoken(one.each.low), spoken(one.each.high)
    return f"about {spoken(one.each.cents)} (forecast: {low} to {high}, 8 times in 10)"


def lot_lines(costs: Costs, one: LotCost) -> Iterator[str]:
    """A lot with each of its machines."""
    yield f"{one.lot}: {counted(one.machines, 'machine')}, {one.works} work, {one.lost} lost, {one.open} open"
    paid, parts, work = (
        spoken(cents) for cents in (one.cost.share, one.cost.parts, one.cost.work)
    )
    yield f"cost {spoken(one.cost.cents, costs.currency)}: paid {paid}, parts {parts}, work {work}"
    yield f"a working machine: {each_told(one)}"
    if not one.cost.share:
        yield no_price_told(one)
    yield ""
    yield "machine       cost       paid      parts       work"
    for unit in of_units(costs, one.lot):
        sums = (spoken(unit[name]) for name in ("cents", "paid", "parts", "work"))
        yield f"{unit['tag'][:8]:8s}" + " ".join(f"{told:>10s}" for told in sums)


def bid_lines(found: Bid, currency: str) -> Iterator[str]:
    """What an offered pallet may cost."""
    if found.median < 0:
        yield f"As likely as not it is not worth its freight: {spoken(found.median, currency)}."
    yield f"pay at most {spoken(max(found.holds, 0), currency)}: then nothing is lost in 8 of 10 cases"
    yield f"as likely as not it brings {spoken(found.median, currency)}"
    yield f"8 times in 10 between {spoken(found.low, currency)} and {spoken(found.high, currency)}"
    if found.unseen:
        yield f"none of these was done here yet, they are reckoned like all others: {', '.join(found.unseen)}"
