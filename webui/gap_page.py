"""Saying that nothing here fits: it is written down, so that the review can show what the library lacks."""

from __future__ import annotations

from flask import Blueprint, redirect
from werkzeug.wrappers import Response

from webui import asked
from webui.asked import NAME_LIMIT, WORDS_LIMIT, Complaint
from webui.safety import once

pages = Blueprint("gap", __name__)


@pages.post("/gap")
def nothing_fits() -> Response:
    """Write down the words that nothing fits, and lead on to a new entry that begins with them."""
    words, job = asked.in_form("q")[:WORDS_LIMIT], asked.in_form("job")[:NAME_LIMIT]
    complaint = Complaint(words, asked.in_form("model")[:NAME_LIMIT], asked.in_form("unit")[:NAME_LIMIT], job)
    if words:
        asked.bench().nothing_fits(words, complaint.model, job, once())
    return redirect(complaint.address("/new"), 303)
