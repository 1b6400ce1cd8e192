"""What lots cost, as a picture and as a table, what is tied up, and a bid for the next pallet."""

from __future__ import annotations

from flask import Blueprint, Response, render_template

from kb.base.csvtext import to_csv
from kb.base.trouble import Refusal
from kb.machines.cost.money import cents_of, spoken
from webui import fields
from webui.serving.replies import as_file

pages = Blueprint("cost", __name__)

#: The most characters of an offer.
OFFER_LIMIT = 20_000
#: Lots in the picture, the last ones.
BARS = 8


@pages.get("/cost")
def cost() -> str:
    """All lots, and the form for a bid."""
    costs = fields.bench().cost.costs()
    told = [one for one in costs.lots if one.each]
    unpriced = [one for one in costs.lots if not one.cost.share]
    return render_template(
        "cost.html", costs=costs, bars=told[-BARS:], unpriced=unpriced, money=spoken
    )


@pages.get("/cost.csv")
def as_csv() -> Response:
    """What each machine cost, in whole cents, for a spreadsheet."""
    costs = fields.bench().cost.costs()
    rows: list[list[str | int]] = [
        ["lot", "machine", "model", "state", "paid", "parts", "work", "cost"]
    ]
    for unit in costs.units:
        line, one = unit.line, costs.unit(unit.line.tag)
        rows.append(
            [
                line.lot,
                line.tag,
                line.model,
                unit.state.value,
                one.share,
                one.parts,
                one.work,
                one.cents,
            ]
        )
    return as_file(to_csv(rows), "text/csv", "cost.csv")


@pages.post("/cost/bid")
def bid() -> str | tuple[str, int]:
    """What the offered pallet may cost; what was typed stays in the form."""
    bench = fields.bench()
    offer, freight = fields.in_form("offer")[:OFFER_LIMIT], fields.in_form("freight")
    currency = bench.shop.settings.currency
    try:
        found, problem = bench.cost.bid(offer, cents_of(freight or "0", currency)), ""
    except Refusal as refusal:
        found, problem = None, refusal.sentence
    page = render_template(
        "bid.html",
        bid=found,
        problem=problem,
        offer=offer,
        freight=freight,
        currency=currency,
        money=spoken,
    )
    return page if found else (page, 400)
