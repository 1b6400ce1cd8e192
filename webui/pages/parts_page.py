"""Parts: who has one that fits, what machines wait for, what was bought, and a part taken with one tap."""

from __future__ import annotations

from urllib.parse import quote, urlencode

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from kb.base.csvtext import to_csv
from kb.machines.cost.money import spoken
from kb.machines.telling import paid_told
from webui import fields
from webui.guard.safety import once
from webui.serving.replies import as_file

pages = Blueprint("parts", __name__)


@pages.get("/parts")
def parts() -> str:
    """What is wanted, and for a part and a model (or the machine that asks) the donors that may give one."""
    bench = fields.bench()
    part, model, asking = (
        fields.in_address(name).strip() for name in ("part", "model", "for")
    )
    needs = model or (bench.machines.unit(asking).model if asking else "")
    found = bench.parts.who_has(part, needs, asking) if part and needs else None
    return render_template(
        "parts.html",
        found=found,
        wanted=bench.parts.wanted(),
        coming=bench.parts.told().on_the_way,
        part=part,
        model=needs,
        asking=asking,
        models=bench.asking.models(),
        currency=bench.shop.settings.currency,
        paid=paid_told,
    )


@pages.post("/parts/take")
def take() -> Response:
    """Write down that a part left a donor, or a piece the drawer; the machine that got it shows it too."""
    part, donor, asking = (
        fields.in_form(name).strip() for name in ("part", "donor", "for")
    )
    if piece := fields.in_form("piece"):
        fields.bench().parts.take_piece(piece, asking, once())
    else:
        fields.bench().parts.take(donor, part, asking, token=once())
    if job := fields.in_form("job"):
        return redirect(fields.job_address(job), 303)
    if entry := fields.in_form("entry"):
        about = fields.TypedComplaint(model=fields.in_form("model"), unit=asking)
        return redirect(about.address(f"/entry/{quote(entry, safe='')}"), 303)
    back = {
        name: value
        for name, value in (
            ("part", part),
            ("for", asking),
            ("model", fields.in_form("model")),
        )
        if value
    }
    return redirect(f"/parts?{urlencode(back, errors='replace')}", 303)


@pages.get("/parts.csv")
def as_csv() -> Response:
    """What machines wait for, for a spreadsheet; prices in whole cents."""
    heads = (
        "part",
        "model",
        "machines",
        "donors",
        "on_the_way",
        "to_order",
        "price",
        "paid_for",
    )
    rows: list[list[str | int | None]] = [[*heads]]
    for one in fields.bench().parts.wanted():
        listed = [", ".join(one.tags), ", ".join(one.donors)]
        paid = (one.price.cents, one.price.paid_for) if one.price else (None, "")
        rows.append([one.part, one.model, *listed, one.on_the_way, one.to_order, *paid])
    return as_file(to_csv(rows), "text/csv", "parts.csv")


@pages.post("/parts/bought")
def bought() -> str:
    """What a list of purchases would bring, with every problem by line; with `take` its good lines are kept."""
    text, name = fields.sent_list()
    taking, as_written = (
        bool(fields.in_form("take")),
        bool(fields.in_form("as_written")),
    )
    desk = fields.bench().buying
    read = desk.take_in if taking else desk.read
    return render_template(
        "bought.html",
        listed=read(text, name, as_written),
        text=text,
        taken=taking,
        as_written=as_written,
        currency=fields.bench().shop.settings.currency,
        money=spoken,
    )


@pages.post("/parts/came")
def came() -> str:
    """Pieces of a purchase came: for which machines, and what is left for the drawer."""
    matched = fields.bench().buying.came(fields.in_form("purchase"), token=once())
    return render_template("came.html", matched=matched)
