"""Saving a confirmed fix: a form that is filled in already, so that one tap saves it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from kb.base.trouble import NotThere
from kb.base.worded import worded
from kb.bench.at_hand import CameForIt, came_for
from kb.bench.doubles import just_saved
from kb.bench.jobs import Untested
from kb.history.fields import TEXTS
from kb.history.trouble import NotAccepted
from kb.model import Cause, Confirmation, Entry, Fix
from webui import fields
from webui.failures import CLOCK_FIELD
from webui.fields import TypedComplaint
from webui.guard.safety import TOKEN_FIELD, once, remember
from webui.pages.models_page import which_model

pages = Blueprint("confirm", __name__)


@dataclass(frozen=True, slots=True)
class Slip:
    """What the form begins with: the cause with entry and fix, the minutes on the clock, who confirms, what came."""

    entry: Entry
    cause: Cause
    fix: Fix | None
    minutes: float | None
    by: str
    came: CameForIt

    @property
    def part(self) -> str:
        """The part that is filled in: the one that came for this machine, else the only one of the fix."""
        asked = self.fix.parts if self.fix else ()
        return self.came.part or (asked[0] if len(asked) == 1 else "")


#: Fields of the form that have another name than what they tell of a job.
FORM_NAMES = {"words": "q"}
#: What the shop says of a job by itself.
BY_THE_SHOP = ("shop", "closed_at")


@pages.get("/confirm")
def form() -> str:
    """The form for a cause (`cause=entry/cause`), filled in from the job, the machine or the search."""
    bench = fields.bench()
    complaint, minutes = fields.complaint(), None
    if complaint.job:
        standing = bench.jobs.standing(complaint.job)
        state = standing.job
        model = state.model or standing.answer.model or complaint.model
        complaint = TypedComplaint(state.words, model, state.unit, state.job)
        minutes = standing.minutes
    known = bench.machines.line(complaint.unit) if complaint.unit else None
    if known:
        complaint = fields.on_machine(complaint, known)
    return render_template(
        "confirm.html",
        asked=complaint,
        slip=_slip(minutes, complaint.unit),
        models=bench.asking.models(),
        place=known.place if known else "",
    )


@pages.post("/confirm")
def save() -> Response | tuple[str, int]:
    """Save the confirmation; the same form again saves nothing new.

    By a second press alone are saved: a model that may be a known one in another spelling, the same machine again
    of just now, and a cause whose fix comes after a test that is not on record.
    """
    given = _given()
    if asked := which_model(given.model, "/confirm"):
        return asked
    saved = (
        None if fields.in_form("twice") else just_saved(fields.bench(), given, once())
    )
    if saved is not None:
        cause = fields.bench().entries.cause_texts([given.cause])[given.cause]
        return render_template(
            "twice.html", saved=saved, cause=cause, kept=_kept()
        ), 409
    untested, agreed = (
        bool(fields.in_form("untested")),
        bool(fields.in_form(CLOCK_FIELD)),
    )
    try:
        receipt = fields.bench().jobs.confirm(
            given, once(), untested=untested, clock_is_right=agreed
        )
    except Untested as missing:
        return _asked_once_more(given, missing), 409
    answer = redirect(fields.job_address(receipt.job), 303)
    remember(answer, fields.INITIALS_COOKIE, given.by)
    remember(answer, fields.LAST_COOKIE, receipt.job)
    return answer


def _given() -> Confirmation:
    """The confirmation that the form tells, field by field; raises NotAccepted for minutes that are no number."""
    told: dict[str, Any] = {
        name: fields.in_form(FORM_NAMES.get(name, name))
        for name in TEXTS
        if name not in BY_THE_SHOP
    }
    told["model"] = fields.model_meant()
    told["part"] = fields.in_form("other_part") or told["part"]
    try:
        return Confirmation(minutes=fields.number("minutes"), **told)
    except ValueError:
        raise NotAccepted(
            worded("the minutes are not a number"), worded("write a number such as 12")
        ) from None


def _asked_once_more(given: Confirmation, untested: Untested) -> str:
    """The page that says which test is missing; the form as it was sent is in it, with a button that saves it."""
    cause = fields.bench().entries.cause_texts([given.cause])[given.cause]
    back = TypedComplaint(given.words, given.model, given.unit).address("/")
    if given.job:
        back = fields.job_address(given.job)
    return render_template(
        "untested.html", tests=untested.tests, cause=cause, kept=_kept(), back=back
    )


def _kept() -> list[tuple[str, str]]:
    """The form as it was sent, but for its token."""
    return [
        (name, value) for name, value in fields.form_fields() if name != TOKEN_FIELD
    ]


def _slip(minutes: float | None, tag: str) -> Slip:
    """Raises NotThere for a cause that no entry lists."""
    slug, _, name = fields.in_address("cause").partition("/")
    entry = fields.bench().entries.entry(slug)
    cause = entry.cause(name) if entry else None
    if entry is None or cause is None:
        raise NotThere(
            worded(
                "no entry lists the cause {slug}/{name}; go back to the search and choose one",
                slug=slug,
                name=name,
            )
        )
    fix = entry.fix_for(name)
    came = came_for(fields.bench(), fix.parts if fix else (), tag)
    return Slip(entry, cause, fix, minutes, by=fields.initials(), came=came)
