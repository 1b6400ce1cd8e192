"""Labels for printing: a lot's or single ones, laid out in millimetres by a style sheet of their own."""

from __future__ import annotations

from dataclasses import asdict
from urllib.parse import urlencode

from flask import Blueprint, Response, render_template, request

from kb.base.worded import worded
from kb.history.trouble import NotAccepted
from kb.machines.labels import LabelSheet, sheets, style
from webui import fields

pages = Blueprint("labels", __name__)

#: The measures of a sheet, each with the string that names it.
MEASURES = {
    "paper_width": "labels.paper_width",
    "paper_height": "labels.paper_height",
    "width": "labels.width",
    "height": "labels.height",
    "left": "labels.left",
    "top": "labels.top",
    "gap_across": "labels.gap_across",
    "gap_down": "labels.gap_down",
}


@pages.get("/labels")
def labels() -> str:
    """The labels of a lot (`lot`) or of tags (`tag`, one a line), as they come out of the printer."""
    sheet = _sheet()
    lot = fields.in_address("lot")
    tags = request.args.get("tag", "")[:5000].replace(",", "\n").splitlines()
    address = request.host_url if "address" in request.args else ""
    made = fields.bench().arrivals.labels(lot, tags, address)
    measures = asdict(sheet)
    return render_template(
        "labels.html",
        sheets=sheets(made, sheet),
        count=len(made),
        lot=lot,
        tags="\n".join(tags),
        lots=[one.name for one in fields.bench().machines.lots() if one.units],
        measures=[(name, MEASURES[name], value) for name, value in measures.items()],
        address="address" in request.args,
        style=f"/labels.css?{urlencode(measures)}",
    )


@pages.get("/labels.css")
def styled() -> Response:
    """The style sheet of a geometry."""
    return Response(style(_sheet()), mimetype="text/css")


def _sheet() -> LabelSheet:
    """The geometry in the address, in millimetres; what it leaves out is as usual."""
    given = {}
    for name in MEASURES:
        text = fields.in_address(name, 20).replace(",", ".")
        if text:
            given[name] = _millimetres(text)
    return LabelSheet(**given).checked()


def _millimetres(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        raise NotAccepted(
            worded("`{text}` is no measure", text=text),
            worded("write millimetres, such as 48 or 25.4"),
        ) from None
    if not 0 <= value <= 2000:
        raise NotAccepted(
            worded("{text} mm is no measure of a sheet of labels", text=text),
            worded("write 0 to 2000 millimetres"),
        )
    return value
