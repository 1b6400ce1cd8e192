"""Parts: who has one that fits, what machines wait for, and a part taken out of a donor with one tap."""

from __future__ import annotations

from urllib.parse import urlencode

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from kb.machines.cost.money import spoken
from kb.machines.telling import fit_told, in_ten
from webui import fields
from webui.guard.safety import once

pages = Blueprint("parts", __name__)


@pages.get("/parts")
def parts() -> str:
    """What is wanted, and for a part and a model (or the machine that asks) the donors that may give one."""
    bench = fields.bench()
    part, model, asking = (fields.in_address(name).strip() for name in ("part", "model", "for"))
    needs = model or (bench.machines.unit(asking).model if asking else "")
    found = bench.parts.who_has(part, needs, asking) if part and needs else None
    return render_template(
        "parts.html",
        found=found,
        wanted=bench.parts.wanted(),
        part=part,
        model=needs,
        asking=asking,
        models=bench.asking.models(),
        currency=bench.shop.settings.currency,
        money=spoken,
        in_ten=in_ten,
        fit_told=fit_told,
    )


@pages.post("/parts/take")
def take() -> Response:
    """Write down that a part left a donor; the machine that got it shows it too."""
    part, donor, asking = (fields.in_form(name).strip() for name in ("part", "donor", "for"))
    fields.bench().parts.take(donor, part, asking, token=once())
    back = {
        name: value for name, value in (("part", part), ("for", asking), ("model", fields.in_form("model"))) if value
    }
    return redirect(f"/parts?{urlencode(back, errors='replace')}", 303)
