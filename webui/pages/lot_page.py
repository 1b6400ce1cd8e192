"""Lots and everything on the floor: the rack as a picture of places, the same as a list, with filters."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from urllib.parse import quote, urlencode

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from kb.base.csvtext import to_csv
from kb.bench.cost import PaidForLot
from kb.machines.cost.money import spoken
from kb.machines.lots import Lot, Wanting, rack, steps_of
from kb.machines.units import FloorState, FloorUnit
from webui import fields
from webui.guard.safety import once
from webui.serving.replies import as_file

pages = Blueprint("lot", __name__)

#: So many machines are shown at a time; who looks for one among more scans its tag or narrows the list.
MOST_LISTED = 300
#: The fields by which a list is narrowed, in their order.
FILTERS = ("state", "model", "step", "who", "text")


@pages.get("/machines")
def floor() -> str:
    """Every machine on the floor, all lots, and the open jobs that belong to no machine."""
    desk = fields.bench().machines
    known = desk.units()
    units = tuple(one for one in known if one.on_floor)
    untagged = [job for job in fields.bench().jobs.open_jobs() if not job.unit.strip()]
    return render_template(
        "machines.html",
        lots=[lot for lot in desk.lots(known) if lot.units],
        untagged=untagged,
        **_shown(units, _wanting()),
    )


@pages.get("/lot/<lot>")
def show(lot: str) -> str:
    """One lot: its figures, its way, its rack and its machines."""
    found = fields.bench().machines.lot(lot)
    currency = fields.bench().shop.settings.currency
    shown = _shown(found.units, _wanting())
    return render_template(
        "lot.html", lot=found, money=spoken, currency=currency, **shown
    )


@pages.post("/lot/<lot>/purchase")
def purchase(lot: str) -> Response:
    """Write down what was paid for a lot, when and to whom, and show it again."""
    told = PaidForLot(
        **{
            name: fields.in_form(name)
            for name in ("paid", "freight", "bought_on", "seller")
        }
    )
    fields.bench().cost.bought(lot, told, once())
    return redirect(f"/lot/{quote(lot, safe='')}?saved", 303)


@pages.get("/lot/<lot>/machines.csv")
def as_csv(lot: str) -> Response:
    """The machines of a lot as CSV, for a spreadsheet and to be read in again."""
    found = fields.bench().machines.lot(lot)
    return as_file(to_csv(csv_rows(found, _wanting())), "text/csv", "machines.csv")


def csv_rows(found: Lot, wanting: Wanting) -> list[list[str]]:
    """A heading row, and a row for each wanted machine of the lot."""
    head = ["tag", "model", "complaint", "place", "state", "next", "with", "lot"]
    rows = [head]
    for one in filter(wanting.takes, found.units):
        line = one.line
        what, where = (
            [line.tag, line.model, line.words, line.place],
            [line.with_, line.lot],
        )
        rows.append([*what, one.state.value, one.step.value, *where])
    return rows


def _wanting() -> Wanting:
    asked = {name: fields.in_address(name) for name in FILTERS}
    return Wanting(
        **asked | {"model": fields.bench().shop.same_models().kept(asked["model"])}
    )


def _shown(units: tuple[FloorUnit, ...], wanting: Wanting) -> dict[str, object]:
    """What a page of machines shows: those wanted, as many as anybody reads, and what can be asked for of all."""
    wanted = [one for one in units if wanting.takes(one)]
    stretch = ShownPart.asked(len(wanted))
    listed = wanted[stretch.before : stretch.before + MOST_LISTED]
    given = {name: value for name, value in asdict(wanting).items() if value}
    here = Counter(one.state for one in units)
    return {
        "units": listed,
        "shelves": rack(listed),
        "wanted": len(wanted),
        "stretch": stretch,
        "total": len(units),
        "wanting": wanting,
        "filtered": bool(given),
        "query": urlencode(given, errors="replace"),
        "states": {state: here[state] for state in FloorState if here[state]},
        "models": sorted({one.line.model for one in units if one.line.model}),
        "steps": steps_of(units),
        "people": sorted({one.line.with_ for one in units if one.line.with_}),
        "path": request.path,
    }


@dataclass(frozen=True, slots=True)
class ShownPart:
    """The stretch of a long list that a page shows: how many machines stand before it, and how many after it."""

    before: int
    after: int

    @classmethod
    def asked(cls, machines: int) -> ShownPart:
        """The stretch of so many machines that the address asks for by the number of those before it."""
        asked = fields.in_address("after", 8)
        before = int(asked) // MOST_LISTED * MOST_LISTED if asked.isdecimal() else 0
        before = before if before < machines else 0
        return cls(before, max(machines - before - MOST_LISTED, 0))

    @property
    def back(self) -> int:
        """How many machines stand before the stretch that comes before."""
        return self.before - MOST_LISTED

    @property
    def further(self) -> int:
        """How many machines stand before the stretch that comes next."""
        return self.before + MOST_LISTED
