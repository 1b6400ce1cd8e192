"""Failures as pages: one table from error to status and heading; never a traceback, never lost text."""

from __future__ import annotations

import secrets
from typing import NamedTuple
from urllib.parse import urlencode

from flask import Flask, current_app, g, redirect, render_template, request
from werkzeug.exceptions import HTTPException
from werkzeug.wrappers import Response

from kb.base.trouble import NotThere, Refusal, Trouble, where
from kb.bench.machines import StillBeingRead
from kb.bench.settings import SettingsTrouble, UnknownTool
from kb.history import trouble
from kb.library.shelf import NotSaved
from webui import fields
from webui.fields import job_address
from webui.guard.door import DoorTrouble
from webui.guard.entering import NotSignedIn, ReadingOnly, ReadingOnlyForm


class StaleForm(Exception):
    """The form's token is missing or belongs to another visitor; its text is kept and offered again."""


class FailurePage(NamedTuple):
    """How an error is told: the status, the key of the heading, and whether what was typed is offered again.

    After `seconds`, unless they are 0, a page that was asked for is asked for again by itself.
    """

    status: int
    heading: str
    again: bool = False
    seconds: int = 0


#: The first line that fits counts.
TABLE: tuple[tuple[type[Exception], FailurePage], ...] = (
    (trouble.HistoryBusy, FailurePage(503, "failure.busy", again=True)),
    (trouble.DiskTrouble, FailurePage(503, "failure.disk", again=True)),
    (trouble.HistoryTrouble, FailurePage(503, "failure.history", again=True)),
    (trouble.UnknownJob, FailurePage(404, "failure.no_job")),
    (trouble.AmbiguousJob, FailurePage(404, "failure.no_job")),
    (trouble.JobClosed, FailurePage(409, "failure.closed")),
    (trouble.JobRetracted, FailurePage(409, "failure.closed")),
    (trouble.ClockDoubt, FailurePage(409, "failure.clock", again=True)),
    (StaleForm, FailurePage(403, "failure.stale", again=True)),
    (NotSaved, FailurePage(503, "failure.disk", again=True)),
    (ReadingOnlyForm, FailurePage(403, "failure.form")),
    (ReadingOnly, FailurePage(403, "failure.reading", again=True)),
    (UnknownTool, FailurePage(400, "failure.refused")),
    (SettingsTrouble, FailurePage(503, "failure.settings", again=True)),
    (DoorTrouble, FailurePage(503, "failure.door")),
    (StillBeingRead, FailurePage(503, "failure.unread", again=True, seconds=3)),
    (NotThere, FailurePage(404, "failure.404")),
    (Refusal, FailurePage(400, "failure.refused", again=True)),
)

#: The field by which a form says that a clock that looks wrong is right.
CLOCK_FIELD = "clock"
#: Fields of a form that are not offered again.
UNSHOWN = ("token", "passphrase", CLOCK_FIELD)
#: Statuses with their own heading and sentence in the strings; any other is told as 400 or 500.
OWN_PAGE = (400, 403, 404, 405, 413, 431)


def answer_for(app: Flask) -> None:
    """Answer every error of the application with a page."""
    for error, failure in TABLE:
        app.register_error_handler(error, _teller(failure))
    app.jinja_env.globals["warnings"] = _warnings
    app.register_error_handler(NotSignedIn, _not_signed_in)
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(Exception, _unforeseen)


def _warnings() -> tuple[str, ...]:
    """What stands above every page while the history, the clock or the words are not as they should be."""
    return fields.bench().health.warnings() if g.get("right") is not None else ()


def _teller(failure: FailurePage):  # type: ignore[no-untyped-def]  # Flask types its handlers by itself
    def tell(error: Exception) -> tuple[str, int, dict[str, str]]:
        sentence = error.sentence if isinstance(error, Trouble) else str(error)
        return *page(failure.status, failure.heading, sentence, failure.again), _later(
            failure.seconds
        )

    return tell


def _later(seconds: int) -> dict[str, str]:
    """The headers by which a page is asked for again after so many seconds; a form is not sent again by itself."""
    if not seconds:
        return {}
    return {"Retry-After": str(seconds)} | (
        {"Refresh": str(seconds)} if request.method == "GET" else {}
    )


#: What forms call the fields that are kept on the page of a failure; any other is called as it is sent.
LABELS = {
    "by": "confirm.by",
    "complaint": "arrival.complaint",
    "lot": "arrival.lot",
    "minutes": "confirm.minutes",
    "model": "confirm.model",
    "note": "confirm.note",
    "other_model": "arrival.other_model",
    "part": "confirm.part",
    "place": "confirm.place",
    "q": "ask.words",
    "tag": "confirm.unit",
    "unit": "confirm.unit",
}


def page(
    status: int, heading: str, sentence: str, again: bool = False
) -> tuple[str, int]:
    """The page of a failure; with `again` the form that was sent is shown with a button to send it once more."""
    again = again and request.endpoint != "door.enter"  # a passphrase is never shown
    given = fields.form_fields() if again else ()
    sent = [(name, value) for name, value in given if name not in UNSHOWN]
    # The same token goes out again, so that whatever happened it is saved once; a refused one is replaced.
    kept = "" if status == 403 else dict(fields.form_fields()).get("token", "")
    job = job_address(_job_named()) if heading == "failure.closed" else ""
    body = render_template(
        "failure.html",
        heading=heading,
        sentence=sentence,
        sent=sent,
        labels=LABELS,
        same_token=kept,
        job=job,
    )
    return body, status


def _job_named() -> str:
    """The job that the address or the form is about."""
    return str(
        (request.view_args or {}).get("job")
        or dict(fields.form_fields()).get("job", "")
    )


def _not_signed_in(_: Exception) -> tuple[str, int] | Response:
    """A page is asked for: sign in and come back to it. A form was sent: keep it until that is done."""
    if request.method == "GET" and request.endpoint != "bench.answer":
        to = request.full_path.removesuffix("?")
        return redirect(f"/enter?{urlencode({'to': to}, errors='replace')}", 303)
    return page(401, "failure.401", "", again=request.routing_exception is None)


def _refused(error: HTTPException) -> tuple[str, int]:
    status = error.code or 500
    if status < 400:
        return error.get_response(), status  # type: ignore[return-value]
    alike = 500 if status >= 500 else 400
    told = status if status in OWN_PAGE else alike
    return page(status, f"failure.{told}", "")


def _unforeseen(error: Exception) -> tuple[str, int]:
    """An error nobody thought of: written to the log under a number, the page gives the number alone."""
    number = secrets.token_hex(4)
    current_app.logger.error(
        "error %s at %r %r: %s",
        number,
        request.method[:20],
        request.path[:120],
        where(error),
    )
    return page(500, "failure.500", number)
