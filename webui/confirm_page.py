"""Saving a confirmed fix: a form that is filled in already, so that one tap saves it."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from kb.bench import Untested
from kb.history.jobs import Confirmation
from kb.history.trouble import NotAccepted
from kb.model import Cause, Entry, Fix
from webui import asked
from webui.asked import Complaint
from webui.safety import TOKEN_FIELD, once, remember

pages = Blueprint("confirm", __name__)


@dataclass(frozen=True, slots=True)
class Slip:
    """What the form begins with: the cause with its entry and fix, the minutes on the clock, who confirms."""

    entry: Entry
    cause: Cause
    fix: Fix | None
    minutes: float | None
    by: str


@pages.get("/confirm")
def form() -> str:
    """The form for a cause (`cause=entry/cause`), filled in from the job or from the search."""
    bench = asked.bench()
    complaint, minutes = asked.complaint(), None
    if complaint.job:
        standing = bench.standing(complaint.job)
        state = standing.job
        model = state.model or standing.answer.model or complaint.model
        complaint = Complaint(state.words, model, state.unit, state.job)
        minutes = standing.minutes
    return render_template("confirm.html", asked=complaint, slip=_slip(minutes), models=bench.models())


@pages.post("/confirm")
def save() -> Response | tuple[str, int]:
    """Save the confirmation; the same form again saves nothing new.

    A cause whose fix comes after a test that is not on record is saved by a second press alone.
    """
    try:
        minutes = asked.number("minutes")
    except ValueError:
        raise NotAccepted("the minutes are not a number", "write a number such as 12") from None
    given = Confirmation(
        cause=asked.in_form("cause"), model=asked.in_form("model"), job=asked.in_form("job"),
        unit=asked.in_form("unit"), words=asked.in_form("q"), minutes=minutes,
        part=asked.in_form("other_part") or asked.in_form("part"), donor=asked.in_form("donor"),
        note=asked.in_form("note"), by=asked.in_form("by"),
    )  # fmt: skip
    try:
        receipt = asked.bench().confirm(given, once(), untested=bool(asked.in_form("untested")))
    except Untested as untested:
        return _asked_once_more(given, untested), 409
    answer = redirect(asked.job_address(receipt.job), 303)
    remember(answer, asked.INITIALS_COOKIE, given.by)  # type: ignore[arg-type]
    remember(answer, asked.LAST_COOKIE, receipt.job)  # type: ignore[arg-type]
    return answer


def _asked_once_more(given: Confirmation, untested: Untested) -> str:
    """The page that says which test is missing; the form as it was sent is in it, with a button that saves it."""
    kept = [(name, value) for name, value in asked.form_fields() if name != TOKEN_FIELD]
    entry, _, name = given.cause.partition("/")
    sheet = asked.bench().read(entry)
    cause = sheet.cause(name) if sheet else None
    back = asked.job_address(given.job) if given.job else Complaint(given.words, given.model, given.unit).address("/")
    return render_template(
        "untested.html", tests=untested.tests, cause=cause.text if cause else given.cause, kept=kept, back=back
    )


def _slip(minutes: float | None) -> Slip:
    """Raises LookupError for a cause that no entry lists."""
    slug, _, name = asked.in_address("cause").partition("/")
    entry = asked.bench().read(slug)
    cause = entry.cause(name) if entry else None
    if entry is None or cause is None:
        raise LookupError(f"no entry lists the cause {slug}/{name}; go back to the search and choose one")
    return Slip(entry, cause, entry.fix_for(name), minutes, request.cookies.get(asked.INITIALS_COOKIE, ""))
