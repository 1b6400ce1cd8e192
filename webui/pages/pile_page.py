"""The pile: which machine next and why, how many will work in the hours and money left, what can be built."""

from __future__ import annotations

from flask import Blueprint, Response, redirect, render_template

from kb.base.csvtext import to_csv
from kb.base.trouble import Refusal
from kb.base.worded import worded
from kb.bench.pile import HOURS
from kb.machines.cost.money import cents_of, spoken
from kb.machines.telling import outlook_said, paid_told
from webui import fields
from webui.guard.safety import once
from webui.serving.replies import as_file

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
    cents = _money()
    return render_template(
        "pile.html",
        view=bench.pile.view(lot, hours, cents),
        lot=lot,
        lots=[one.name for one in bench.machines.lots()],
        hours=hours,
        cents=cents,
        currency=currency,
        money=spoken,
        paid=paid_told,
        told=outlook_said,
    )


@pages.get("/pile.csv")
def as_csv() -> Response:
    """The machines in their order with chance and minutes, for a spreadsheet."""
    view = fields.bench().pile.view(
        fields.in_address("lot").strip(), _hours(fields.in_address("hours")), _money()
    )
    rows: list[list[str | int | float]] = [
        ["machine", "turn", "chance", "minutes", "its parts free"]
    ]
    rows.extend(
        [
            one.tag,
            one.turn,
            round(one.chance, 4),
            round(one.minutes, 1),
            ", ".join(one.frees),
        ]
        for one in view.outlooks
    )
    return as_file(to_csv(rows), "text/csv", "pile.csv")


@pages.post("/pile/build")
def build() -> Response:
    """A complete machine was put together from several; shows it under its new tag."""
    tag = fields.bench().pile.build(fields.in_form("model"), once())
    return redirect(fields.unit_address(tag), 303)  # type: ignore[return-value]


def _money() -> int:
    """The cents that are left for parts, as the address says."""
    return max(
        cents_of(
            fields.in_address("money") or "0", fields.bench().shop.settings.currency
        ),
        0,
    )


def _hours(text: str) -> float:
    """The hours as typed; the usual ones where nothing is."""
    try:
        hours = float(text.replace(",", ".")) if text.strip() else HOURS
    except ValueError:
        hours = -1.0
    if not 0 <= hours <= MOST_HOURS:
        raise Refusal(
            worded(
                "`{text}` is no number of hours; write one such as 8", text=text[:20]
            )
        )
    return hours
