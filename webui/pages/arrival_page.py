"""Machines that come in: one at a time by scanner and three taps, or a whole list with every problem named first."""

from __future__ import annotations

from collections import Counter
from urllib.parse import urlencode

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from kb.bench.arrivals import Arrived
from kb.machines.units import FloorUnit, is_unknown
from webui import fields
from webui.guard.safety import once, remember
from webui.pages.models_page import which_model

pages = Blueprint("arrival", __name__)

#: So many complaints are offered to tap: those of the lot, most frequent first, filled up with the trade's common ones.
CHIPS = 6


@pages.get("/arrival")
def form() -> str:
    """The form for the next machine, with what the one before had filled in."""
    bench = fields.bench()
    lot, saved = fields.in_address("lot"), fields.in_address("saved")
    units = bench.machines.units(lot) if lot else ()
    before = bench.machines.line(saved) if saved else None
    given = fields.in_address("model")
    return render_template(
        "arrival.html",
        lot=lot,
        tag=fields.in_address("tag"),
        saved=before,
        model=given or (before.model if before else ""),
        place=fields.in_address("place") or (before.place if before else ""),
        models=_models(units, bench.asking.models()),
        complaints=_complaints(units),
        looks=bench.machines.arrival_lines(),
        came_in=len(units),
        lots=[one.name for one in bench.machines.lots()[:12]],
        by=fields.initials(),
        text="",
    )


@pages.post("/arrival")
def take() -> Response | tuple[str, int]:
    """Take in one machine, and be ready for the next of its lot; a model near a known one is asked about first."""
    if asked := which_model(fields.in_form("other_model"), "/arrival"):
        return asked
    names = [line.name for line in fields.bench().machines.arrival_lines()]
    looks = {name: "bad" for name in names if fields.in_form(f"bad-{name}")}
    if fields.in_form("looked"):
        looks = dict.fromkeys(names, "good") | looks
    told = Arrived(
        lot=fields.in_form("lot"),
        tag=fields.in_form("tag"),
        model=_model() or "unknown",
        words=fields.in_form("q") or fields.in_form("complaint"),
        place=fields.in_form("place"),
        by=fields.in_form("by"),
        looks=looks,
    )
    tag = fields.bench().arrivals.arrive(told, once())
    answer = redirect(
        f"/arrival?{urlencode({'lot': told.lot, 'saved': tag}, errors='replace')}", 303
    )
    remember(answer, fields.INITIALS_COOKIE, told.by)
    return answer


@pages.post("/arrival/list")
def take_list() -> str:
    """What a list would bring, with every problem by line; with `take` its good lines come in."""
    text, name = fields.sent_list()
    desk, new_models = fields.bench().arrivals, bool(fields.in_form("new_models"))
    taking = bool(fields.in_form("take"))
    read = desk.take_in if taking else desk.read_pallet
    pallet = read(text, fields.in_form("lot"), name, new_models)
    return render_template(
        "arrived.html", pallet=pallet, text=text, taken=taking, new_models=new_models
    )


def _model() -> str:
    """The model of the form as the shop writes it: one that was typed wins over one that was tapped."""
    typed = fields.bench().asking.spelt(fields.in_form("other_model"))
    return fields.in_form(fields.SURE_OF_MODEL) or typed or fields.in_form("model")


def _models(units: tuple[FloorUnit, ...], known: list[str]) -> list[str]:
    """The models offered: those of the lot first, most frequent first."""
    counted = Counter(one.line.model for one in units if not is_unknown(one.line.model))
    own = [model for model, _ in counted.most_common()]
    return list(dict.fromkeys([*own, *known]))[:12]


def _complaints(units: tuple[FloorUnit, ...]) -> list[str]:
    counted = Counter(one.line.words.casefold() for one in units if one.line.words)
    own = [words for words, count in counted.most_common(CHIPS) if count > 1]
    return list(dict.fromkeys([*own, *fields.bench().shop.customs.trade().complaints]))[
        :CHIPS
    ]
