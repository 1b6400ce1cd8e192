"""The check-out of a machine: one line at a time with the rest below, what it showed, the signature and the sheet."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from kb.base.trouble import NotThere, Refusal
from kb.base.worded import worded
from kb.bench.checkout import CheckOut
from kb.bench.machine_pictures import of_machine
from kb.machines.checkout import codes
from kb.machines.checkout.standing import LineStanding
from kb.machines.labels import tag_code
from webui import fields
from webui.guard.safety import once, remember

pages = Blueprint("checkout", __name__)


@dataclass(frozen=True, slots=True)
class LineCard:
    """The line that stands large on the page: how it stands, why it comes now, and what it may look like when bad.

    `later` is the line after it, for whoever leaves this one for a while.
    """

    standing: LineStanding
    why: str
    pictures: tuple[str, ...]
    waits: tuple[str, ...] = ()
    later: str = ""


def address_of(tag: str) -> str:
    """The page of a machine's check-out.

    >>> address_of("P7-012"), address_of("shelf 3")
    ('/u/P7-012/checkout', '/u/shelf%203/checkout')
    """
    return f"{fields.unit_address(tag)}/checkout"


@pages.get("/u/<tag>/checkout")
def show(tag: str) -> str | Response:
    """The line to do next, or the one named in the address, large; the rest listed in the order to do it.

    A tag in the field for a line leads to the check-out of that machine.
    """
    stands = fields.bench().checkout.of(tag)
    wanted = fields.in_address("line")
    try:
        name = fields.bench().checkout.line(wanted).name if wanted else ""
    except NotThere:
        if fields.bench().machines.line(wanted) is None:
            raise
        return redirect(address_of(wanted), 303)
    return render_template(
        "checkout.html",
        stands=stands,
        deeds=fields.bench().checkout.deeds_after(stands),
        card=_card(stands, name),
        own=address_of(stands.unit.tag),
        by=fields.initials(),
    )


@pages.post("/u/<tag>/checkout")
def note(tag: str) -> Response:
    """Write down what a line showed; a failed one leads to its job, everything else back to what comes next."""
    desk, line, by = (
        fields.bench().checkout,
        fields.in_form("line"),
        fields.in_form("by"),
    )
    leads_to = address_of(tag)
    match fields.in_form("shown"):
        case "good":
            desk.good(tag, line, _value(), by, once())
        case "bad":
            words = fields.in_form("words") or fields.in_form("own_words")
            leads_to = fields.job_address(desk.bad(tag, line, words, by, once()).job)
        case "not-there":
            desk.not_there(tag, line, fields.in_form("why"), by, once())
        case "waived":
            desk.waive(tag, line, fields.in_form("why"), by, once())
        case "back":
            desk.take_back(tag, line, once())
        case _:
            raise Refusal(
                worded(
                    "the form does not say what the line showed; press one of its buttons"
                )
            )
    answer = redirect(leads_to, 303)
    if by:
        remember(answer, fields.INITIALS_COOKIE, by)
    return answer


@pages.post("/u/<tag>/checkout/sign")
def sign(tag: str) -> Response:
    """Sign the check-out; the desk refuses whoever repaired the machine, and one that is not ready."""
    fields.bench().checkout.sign(tag, fields.in_form("by"), once())
    return redirect(f"{address_of(tag)}/sheet", 303)


@pages.get("/checkout/codes")
def codes_sheet() -> str:
    """The codes that a scanner reads in place of a tap, to be printed."""
    return render_template(
        "codes.html",
        codes=[(tag_code(says), word) for says, word in codes.CODES.items()],
    )


@pages.get("/u/<tag>/checkout/sheet")
def sheet(tag: str) -> str:
    """The sheet that goes with the machine, on one printed page."""
    stands = fields.bench().checkout.of(tag)
    pictures = [one for _, one in of_machine(stands.unit, fields.bench())]
    return render_template(
        "checkout_sheet.html",
        stands=stands,
        pictures=pictures,
        own=address_of(stands.unit.tag),
    )


def _value() -> str:
    """What was read: a grade with own words after it, or the words alone."""
    grade, words = fields.in_form("grade"), fields.in_form("value")
    return f"{grade}: {words}" if grade and words else grade or words


def _card(stands: CheckOut, name: str) -> LineCard | None:
    """The line that was asked for, else the one to do next; None if nothing is left that can be done now."""
    following = stands.next_line
    wanted = name or (following.line.name if following else "")
    standing = stands.at(wanted)
    if standing is None:
        return None
    why = next((todo.why for todo in stands.way.todo if todo.line.name == wanted), "")
    waits = next(
        (waits for held, waits in stands.way.held if held.line.name == wanted), ()
    )
    return LineCard(
        standing=standing,
        why=why,
        pictures=fields.bench().checkout.pictures_of(standing.line),
        waits=waits,
        later=_after(stands, wanted),
    )


def _after(stands: CheckOut, name: str) -> str:
    """The line that comes after one in the order to do them, the first one after the last; empty if it is alone."""
    names = [todo.line.name for todo in stands.way.todo]
    following = names[names.index(name) + 1 :] if name in names else []
    others = [*following, *(one for one in names if one != name)]
    return others[0] if others else ""
