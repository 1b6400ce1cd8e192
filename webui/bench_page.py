"""The bench: type a symptom, see what fits, what to do next and which jobs are open."""

from __future__ import annotations

import re

from flask import Blueprint, Response, make_response, render_template, request

from kb.model import Answer
from webui import asked
from webui.answering import Board, board
from webui.asked import Complaint
from webui.safety import remember

pages = Blueprint("bench", __name__)


@pages.get("/")
def bench() -> Response:
    """The first page; with words in the address, their answer is on it."""
    complaint = asked.complaint()
    page = make_response(
        render_template(
            "bench.html",
            asked=complaint,
            board=_looked_up(complaint, unfinished=False),
            models=asked.bench().models(),
            open_jobs=asked.bench().open_jobs(),
        )
    )
    return _with_model(page, complaint)


@pages.get("/answer")
def answer() -> Response:
    """The answer alone, for a page that asks while its user types, and with `done` in the address when they have."""
    complaint = asked.complaint()
    found = _looked_up(complaint, unfinished="done" not in request.args)
    return _with_model(make_response(render_template("answer.html", asked=complaint, board=found)), complaint)


def _looked_up(complaint: Complaint, unfinished: bool) -> Board | None:
    if not complaint.words:
        return None
    found = asked.bench().search(complaint.words, complaint.model, unfinished=unfinished)
    return board(asked.bench(), complaint, found, literal(found))


def literal(answer: Answer) -> tuple[tuple[str, str, str], ...]:
    """Each correction as (typed, read as, the words with what was typed in quotes, so that it is kept)."""
    return tuple(
        (typed, read, re.sub(rf"(?<![\w\"]){re.escape(typed)}(?!\w)", f'"{typed}"', answer.query, flags=re.IGNORECASE))
        for typed, read in answer.corrections
    )


def _with_model(page: Response, complaint: Complaint) -> Response:
    """The page, with the model in the address remembered for the next visit."""
    if "model" in request.args and complaint.model != request.cookies.get(asked.MODEL_COOKIE, ""):
        remember(page, asked.MODEL_COOKIE, complaint.model)
    return page
