"""Saying that nothing here fits: it is written down, so that the review can show what the library lacks."""

from __future__ import annotations

from flask import Blueprint, redirect
from werkzeug.wrappers import Response

from webui import fields
from webui.fields import NAME_LIMIT, WORDS_LIMIT, TypedComplaint
from webui.guard.safety import once

pages = Blueprint("gap", __name__)


@pages.post("/gap")
def nothing_fits() -> Response:
    """Write down the words that nothing fits, and lead on to a new entry that begins with them."""
    words, job = fields.in_form("q")[:WORDS_LIMIT], fields.in_form("job")[:NAME_LIMIT]
    complaint = TypedComplaint(
        words,
        fields.in_form("model")[:NAME_LIMIT],
        fields.in_form("unit")[:NAME_LIMIT],
        job,
    )
    if words:
        fields.bench().jobs.nothing_fits(words, complaint.model, job, once())
    return redirect(complaint.address("/new"), 303)
