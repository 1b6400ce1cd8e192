"""The pile: which machine next and why, how many will work in the hours and money left, what can be built."""

from __future__ import annotations

from flask import Blueprint, render_template

from kb.base.trouble import Refusal
from kb.base.worded import worded
from kb.bench.pile import HOURS
from kb.machines.cost.money import cents_of, spoken
from kb.machines.telling import in_ten, outlook_said
from webui import fields

pages = Blueprint("pile", __name__)

#: The most hours that are reckoned with: a year of one person.
MOST_HOURS = 2000.0


@pages.get("/pile")
def pile() -> str:
    """The machines in their order, each with a sentence; hours and money left are two fields."""
    bench = fields.bench()
    currency = bench.shop.settings.currency
    lot = fields.in_address("lot").strip()
    hours = _hours(fields.in_address("hours"))
    cents = max(cents_of(fields.in_address("money") or "0", currency), 0)
    return render_template(
        "pile.html",
        view=bench.pile.view(lot, hours, cents),
        lot=lot,
        lots=[one.name for one in bench.machines.lots()],
        hours=hours,
        cents=cents,
        currency=currency,
        money=spoken,
        in_ten=in_ten,
        told=outlook_said,
    )


def _hours(text: str) -> float:
    """The hours as typed; the usual ones where nothing is."""
    try:
        hours = float(text.replace(",", ".")) if text.strip() else HOURS
    except ValueError:
        hours = -1.0
    if not 0 <= hours <= MOST_HOURS:
        raise Refusal(worded("`{text}` is no number of hours; write one such as 8", text=text[:20]))
    return hours
