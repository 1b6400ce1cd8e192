"""One machine: where it stands, what was done, what it waits for, what comes next; and what is written down of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from urllib.parse import quote

from flask import Blueprint, abort, redirect, render_template
from werkzeug.wrappers import Response

from kb.bench import job_pictures, machine_pictures, returns
from kb.bench.leftovers import parts_left
from kb.bench.machines import Machine, NoMachine, misread
from kb.bench.parts import in_all_words
from kb.history.units import Remarked
from kb.library.album import Picture
from kb.library.checklist import CheckLine
from kb.machines.checkout.codes import is_line_code
from kb.machines.cost.money import cents_of, spoken
from kb.machines.units import FloorState, is_unknown
from webui import fields, marking
from webui.fields import TypedComplaint, job_address, tag_in, unit_address
from webui.guard.safety import once, remember
from webui.pages.checkout_page import address_of

pages = Blueprint("unit", __name__)

#: So many tags are offered for one that may be misread.
MOST_NEAR = 4


@pages.get("/U/<tag>")  # as codes spell it, in capitals
@pages.get("/u/<tag>")
def show(tag: str) -> str | tuple[str, int]:
    """The machine of a tag; one that nobody knows can be taken in from here."""
    try:
        found = fields.bench().machines.machine(tag)
    except NoMachine as unknown:
        near = misread(
            unknown.tag, (one.line.tag for one in fields.bench().machines.units())
        )
        return render_template(
            "no_unit.html", tag=unknown.tag, near=near[:MOST_NEAR]
        ), 404
    desk = fields.bench().machines
    causes = [job.closed.cause for job in found.unit.jobs if job.closed]
    return render_template(
        "unit.html",
        unit=found.unit,
        stands=found.stands,
        causes=fields.bench().entries.cause_texts(causes),
        looks=desk.arrival_lines(),
        again=_search_again(found),
        gave=found.unit.given,
        got=found.unit.taken,
        pictures=machine_pictures.of_machine(found.unit, fields.bench()),
        of_jobs={
            job.job: job_pictures.of_job(job, fields.bench())
            for job in found.unit.jobs
            if job.pictures
        },
        left=parts_left(fields.bench().parts, found)
        if found.stands.state is FloorState.DONOR
        else (),
        parts=sorted(fields.bench().shop.customs.trade().parts),
        checkout=address_of(found.unit.tag),
        by=fields.initials(),
        unknown_model=is_unknown(found.unit.model),
        urgent=_cannot_wait(found),
        money=spoken,
        currency=fields.bench().shop.settings.currency,
    )


def _cannot_wait(found: Machine) -> tuple[str, ...]:
    """What is done at once with a machine whose fault is still to be found, by its complaint or its open job.

    Where a first look has failed, the check-out list says it.
    """
    is_told = any(look.at_once for look in _failed_looks(found))
    if is_told or found.stands.state not in (
        FloorState.WAITING,
        FloorState.BENCH,
        FloorState.PART,
    ):
        return ()
    return in_all_words(fields.bench().parts.at_once(found.stands))


def _failed_looks(found: Machine) -> Iterator[CheckLine]:
    """The lines looked at on arrival that this machine failed."""
    failed = found.stands.line.failed_lines
    return (
        look for look in fields.bench().machines.arrival_lines() if look.name in failed
    )


@pages.get("/scan")
def scan() -> Response:
    """Where a code leads that was read into the field of the pages: a tag, or the address of a machine's page."""
    tag = tag_in(fields.in_address("tag", 500))
    if is_line_code(tag):  # it presses something on a check-out alone
        return redirect("/checkout/codes", 303)
    return redirect(unit_address(tag) if tag else "/machines", 303)


@pages.post("/u/<tag>/job")
def begin(tag: str) -> Response:
    """Open a job for what is wrong; an open one is shown first, unless this is said to be another fault."""
    bench = fields.bench()
    found = bench.machines.machine(tag)
    unit = found.unit
    if unit.open_jobs and not fields.in_form("another"):
        return redirect(f"{unit_address(unit.tag)}#jobs", 303)
    model = fields.known_model(unit.model)
    job = bench.jobs.begin(fields.in_form("q") or unit.words, model, unit.tag, once())
    bench.jobs.take_up(job, fields.at_this_bench(), once())
    return redirect(job_address(job), 303)


@pages.post("/u/<tag>/back")
def back(tag: str) -> Response:
    """A machine that had left is here again; with what is wrong its job is opened and shown."""
    job = returns.come_back(fields.bench(), tag, fields.in_form("q"), once())
    return redirect(job_address(job) if job else f"{unit_address(tag)}?saved", 303)


@pages.post("/u/<tag>/mistake")
def mistake(tag: str) -> Response:
    """A machine was entered by mistake; shows its lot without it."""
    lot = fields.bench().machines.unit(tag).lot
    returns.never_came(fields.bench(), tag, once())
    others = fields.bench().machines.units(lot) if lot else ()
    return redirect(f"/lot/{quote(lot, safe='')}?saved" if others else "/machines", 303)


@pages.post("/u/<tag>/picture")
def picture(tag: str) -> Response:
    """Put a picture on the machine."""
    by = fields.initials()
    fields.bench().machines.add_picture(
        tag, fields.sent_picture(), fields.in_form("caption"), by, once()
    )
    return redirect(f"{unit_address(tag)}#notes", 303)


@pages.get("/u/<tag>/mark")
def where_to_mark(tag: str) -> str:
    """The page on which a picture of the machine is tapped where the thing is."""
    return marking.page_of(
        _pictures_of(tag), unit_address(tag), f"{unit_address(tag)}#notes"
    )


@pages.post("/u/<tag>/mark")
def mark(tag: str) -> Response:
    """Show a marked copy of a picture of the machine in its place, or with `plain` in the form the one without."""
    bench = fields.bench()
    marking.do(
        _pictures_of(tag),
        partial(machine_pictures.mark, tag, bench),
        partial(machine_pictures.unmark, tag, bench),
    )
    return redirect(f"{unit_address(tag)}#notes", 303)


def _pictures_of(tag: str) -> tuple[tuple[Remarked, Picture], ...]:
    return machine_pictures.of_machine(
        fields.bench().machines.unit(tag), fields.bench()
    )


@pages.post("/u/<tag>/<deed>")
def write(tag: str, deed: str) -> Response:
    """Write down one thing of the machine and show it again."""
    if deed not in DEEDS:
        abort(404)
    DEEDS[deed](tag)
    answer = redirect(f"{unit_address(tag)}?saved", 303)
    if by := fields.in_form("by"):
        remember(answer, fields.INITIALS_COOKIE, by)
    return answer


def _note(tag: str) -> None:
    fields.bench().machines.note(
        tag, fields.in_form("text"), fields.in_form("by"), once()
    )


def _move(tag: str) -> None:
    fields.bench().machines.move(tag, fields.in_form("place"), once())


def _hand(tag: str) -> None:
    fields.bench().machines.hand_over(
        tag, fields.in_form("to"), fields.in_form("by"), once()
    )


def _want(tag: str) -> None:
    bench = fields.bench()
    open_jobs = bench.machines.unit(tag).open_jobs
    job = open_jobs[0].job if len(open_jobs) == 1 else ""
    bench.machines.want(tag, bench.parts.named(fields.in_form("part")), job, once())
    if job:
        bench.jobs.leave(
            job, fields.at_this_bench(), "waits for a part", f"{once()}-off"
        )


def _correct(tag: str) -> None:
    told = {name: fields.in_form(name) for name in ("model", "lot", "look", "serial")}
    fields.bench().machines.correct(tag, told | {"words": fields.in_form("q")}, once())


def _look(tag: str) -> None:
    bench = fields.bench()
    shown = {
        line.name: fields.in_form(f"look-{line.name}")
        for line in bench.machines.arrival_lines()
    }
    bench.arrivals.look_at(
        tag,
        {name: how for name, how in shown.items() if how},
        fields.in_form("by"),
        once(),
    )


def _give_up(tag: str) -> None:
    fields.bench().machines.give_up(tag, fields.in_form("why"), once())


def _keep(tag: str) -> None:
    fields.bench().machines.give_up(tag, fields.in_form("why"), once(), back=True)


def _gone(tag: str) -> None:
    bench = fields.bench()
    price = cents_of(fields.in_form("price") or "0", bench.shop.settings.currency)
    bench.machines.let_go(tag, fields.in_form("how"), price, once())


def _strike(tag: str) -> None:
    fields.bench().machines.unit(tag)
    fields.bench().machines.strike(
        fields.in_form("record"), fields.in_form("why"), once()
    )


def _turned_out(tag: str) -> None:
    part, why = fields.in_form("part"), fields.in_form("why")
    fields.bench().parts.turned_out(part, tag, fields.turned_out(), why, once())


#: What can be written down of a machine, by the last word of the address.
DEEDS: dict[str, Callable[[str], None]] = {
    "note": _note,
    "place": _move,
    "hand": _hand,
    "part": _want,
    "facts": _correct,
    "look": _look,
    "donor": _give_up,
    "keep": _keep,
    "gone": _gone,
    "strike": _strike,
    "turned": _turned_out,
}


def _search_again(found: Machine) -> str:
    """The search for what is wrong with the machine, its words filled in."""
    unit = found.unit
    failed = ", ".join(
        name.replace("-", " ") for name in found.stands.line.failed_lines
    )
    return TypedComplaint(
        unit.words or failed, fields.known_model(unit.model), unit.tag
    ).address("/")
