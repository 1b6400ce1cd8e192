"""What went wrong, as a page: one table from error to status and heading; never a traceback, never lost text."""

from __future__ import annotations

import secrets
from typing import NamedTuple

from flask import Flask, render_template, request
from werkzeug.exceptions import HTTPException

from kb.history import trouble
from webui import asked


class StaleForm(Exception):  # noqa: N818 - the word a mechanic would use
    """The form's token is missing or belongs to another visitor; its text is kept and offered again."""


class Failure(NamedTuple):
    """How an error is told: the status, the key of the heading, and whether what was typed is offered again."""

    status: int
    heading: str
    again: bool = False


#: The first line that fits counts.
TABLE: tuple[tuple[type[Exception], Failure], ...] = (
    (trouble.HistoryBusy, Failure(503, "failure.busy", again=True)),
    (trouble.DiskTrouble, Failure(503, "failure.disk", again=True)),
    (trouble.HistoryTrouble, Failure(503, "failure.history")),
    (trouble.UnknownJob, Failure(404, "failure.no_job")),
    (trouble.AmbiguousJob, Failure(404, "failure.no_job")),
    (trouble.JobClosed, Failure(409, "failure.closed")),
    (trouble.JobRetracted, Failure(409, "failure.closed")),
    (trouble.Refusal, Failure(400, "failure.refused", again=True)),
    (StaleForm, Failure(403, "failure.stale", again=True)),
)

#: Statuses with their own heading and sentence in the strings; any other is told as 400 or 500.
OWN_PAGE = (400, 403, 404, 405, 413, 431)


def answer_for(app: Flask) -> None:
    """Answer every error of the application with a page."""
    for error, failure in TABLE:
        app.register_error_handler(error, _teller(failure))
    app.register_error_handler(LookupError, _not_there)
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(Exception, _unforeseen)


def _teller(failure: Failure):  # type: ignore[no-untyped-def]  # Flask types its handlers by itself
    def tell(error: Exception) -> tuple[str, int]:
        return page(failure.status, failure.heading, str(error), failure.again)

    return tell


def page(status: int, heading: str, sentence: str, again: bool = False) -> tuple[str, int]:
    """The page of a failure; with `again` the form that was sent is shown with a button to send it once more."""
    sent = [(name, value) for name, value in asked.form_fields() if name != "token"] if again else []
    # The same token goes out again, so that whatever happened it is saved once; a refused one is replaced.
    kept = "" if status == 403 else dict(asked.form_fields()).get("token", "")
    body = render_template("failure.html", heading=heading, sentence=sentence, sent=sent, same_token=kept)
    return body, status


def _not_there(error: LookupError) -> tuple[str, int]:
    if type(error) is not LookupError:
        return _unforeseen(error)
    return page(404, "failure.404", str(error))


def _refused(error: HTTPException) -> tuple[str, int]:
    status = error.code or 500
    if status < 400:
        return error.get_response(), status  # type: ignore[return-value]
    told = status if status in OWN_PAGE else 500 if status >= 500 else 400
    return page(status, f"failure.{told}", "")


def _unforeseen(error: Exception) -> tuple[str, int]:
    """An error nobody thought of: written to the log under a number, the page gives the number alone."""
    from flask import current_app

    number = secrets.token_hex(4)
    current_app.logger.error("error %s at %s %r", number, request.method, request.path, exc_info=error)
    return page(500, "failure.500", number)
