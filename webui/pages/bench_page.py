"""The bench: type a symptom, see what fits, what to do next and which jobs are open."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, replace

from flask import (
    Blueprint,
    Response,
    current_app,
    make_response,
    redirect,
    render_template,
    request,
)

from kb.diagnosis.answer import Answer
from kb.history.copies.register import BackedUp
from kb.history.copies.watch import Troubled
from kb.machines.units import UnitLine
from kb.model import Job
from webui import fields
from webui.board import Board, board, with_parts, with_pictures
from webui.fields import TypedComplaint, tag_in, unit_address
from webui.guard.safety import remember
from webui.serving.turns import turn

pages = Blueprint("bench", __name__)


@dataclass(frozen=True, slots=True)
class Backups:
    """How far the history is in backups, and what a running server fails at that should be making them."""

    found: BackedUp
    failing: tuple[str, ...]


#: No tag is longer that is looked up when it stands alone in the field.
LONGEST_TAG = 40
#: Saved jobs shown, so that a wrong one is found again by whoever notices it.
SAVED = 5


@pages.get("/")
def bench() -> Response:
    """The first page; with words in the address, their answer is on it."""
    complaint = fields.complaint()
    if tag := _machine_named(complaint.words):
        return redirect(unit_address(tag), 303)  # type: ignore[return-value]
    known = fields.bench().machines.line(complaint.unit) if complaint.unit else None
    if known is not None:
        complaint = _filled_in(complaint, known)
    own, saved = _saved_last()
    page = make_response(
        render_template(
            "bench.html",
            asked=complaint,
            known=known,
            board=_looked_up(complaint, unfinished=False),
            models=fields.bench().asking.models(),
            open_jobs=fields.bench().jobs.open_jobs(),
            saved=saved,
            own=own,
            causes=fields.bench().entries.cause_texts([job.cause for job in saved]),
            backups=_backups(),
        )
    )
    return _with_model(page, complaint)


def _machine_named(words: str) -> str:
    """The tag of the machine if the words are nothing but that, as when a code was read into the field; else empty."""
    tag = tag_in(words)
    if not any(sign.isdigit() for sign in tag) or len(tag) > LONGEST_TAG:
        return ""
    line = fields.bench().machines.line(tag)
    return line.tag if line else ""


def _filled_in(complaint: TypedComplaint, known: UnitLine) -> TypedComplaint:
    """The complaint with what is known of its machine where nothing else was said."""
    words = complaint.words if "q" in request.args else known.words
    return fields.on_machine(complaint.saying(words), known)


@pages.get("/answer")
def answer() -> Response:
    """The answer alone, for a page that asks while its user types, and with `done` in the address when they have."""
    complaint = fields.complaint()
    if "done" in request.args and (tag := _machine_named(complaint.words)):
        return make_response(
            render_template("answer.html", asked=complaint, leads=unit_address(tag))
        )
    with turn():
        unfinished = "done" not in request.args
        found = _looked_up(complaint, unfinished)
        tag = _told_by(found) if found and unfinished else ""
        if tag and request.if_none_match.contains_weak(tag):
            page = Response(status=304)
        else:
            page = make_response(
                render_template(
                    "answer.html", asked=complaint, board=found, unfinished=unfinished
                )
            )
    if tag:
        page.set_etag(tag, weak=True)
    return _with_model(page, complaint)


def _told_by(found: Board) -> str:
    """A tag that two answers share where they say the same to somebody who is still typing.

    That is whether anything fits, the first entry, the step and what stands above them; shares and what is listed below
    the first may differ a little. The page puts the new words into its forms and links then, and asks for the whole
    answer once nothing more is typed (bench.js). It is a weak tag in the sense of RFC 9110, 8.8.1, asked for by
    If-None-Match (13.1.2).
    """
    first = found.answer.entries[0].entry if found.answer.entries else ""
    step = (found.step.entry, found.step.name) if found.step else ()
    said = (found.answer.fits, first, step, found.answer.at_once, found.cautions)
    read = tuple((typed, as_that) for typed, as_that, _ in found.literal)
    asked = (
        found.asked.model,
        found.asked.unit,
        found.named,
        found.field,
        read,
        found.answer.two,
    )
    return hashlib.sha256(repr((said, asked)).encode()).hexdigest()[:16]


def _looked_up(complaint: TypedComplaint, unfinished: bool) -> Board | None:
    """The answer to the words; a model named in them counts more than the one in the field."""
    if not complaint.words:
        return None
    look = fields.bench().asking.look(complaint.words, complaint.model, unfinished)
    about = replace(complaint, model=look.named or complaint.model)
    read = literal(look.answer)
    if unfinished:
        read = tuple(one for one in read if not about.words.endswith(one[0]))
    laid_out = board(look.entries.get, about, look.answer, read)
    if not unfinished:
        laid_out = with_pictures(fields.bench(), with_parts(fields.bench(), laid_out))
    if not unfinished and not look.named:
        laid_out = replace(
            laid_out, near_model=fields.bench().asking.near_model(complaint.model)
        )
    if look.named.casefold() == complaint.model.casefold():
        return laid_out
    return replace(laid_out, named=look.named, field=complaint.model)


def _saved_last() -> tuple[str, tuple[Job, ...]]:
    """The id of the job that this browser confirmed last, and the last ones of the shop with that one first."""
    own = request.cookies.get(fields.LAST_COOKIE, "")[: fields.NAME_LIMIT]
    return own, fields.bench().jobs.last_saved(SAVED, own)


def _backups() -> Backups | None:
    """How backups stand if something is wrong with them; None if all is well, or it cannot be known."""
    found = fields.bench().health.backed_up()
    known = fields.bench().health.trouble()  # which stands above the page already
    watches: tuple[Troubled, ...] = current_app.extensions["watches"]
    troubles = filter(None, [watch.trouble for watch in watches])
    failing = tuple(
        trouble for trouble in troubles if not known or known not in trouble
    )
    return Backups(found, failing) if found.overdue or failing else None


def literal(answer: Answer) -> tuple[tuple[str, str, str], ...]:
    """Each correction as (typed, read as, the words with what was typed in quotes, so that it is kept)."""
    return tuple(
        (
            typed,
            read,
            re.sub(
                rf"(?<![\w\"]){re.escape(typed)}(?!\w)",
                f'"{typed}"',
                answer.query,
                flags=re.IGNORECASE,
            ),
        )
        for typed, read in answer.corrections
    )


def _with_model(page: Response, complaint: TypedComplaint) -> Response:
    """The page, with the model in the address remembered for the next visit."""
    if "model" in request.args and complaint.model != request.cookies.get(
        fields.MODEL_COOKIE, ""
    ):
        remember(page, fields.MODEL_COOKIE, complaint.model)
    return page
