"""Writing down a fault picture that the library does not have yet, beginning with the words that found nothing."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from webui import asked, strings

pages = Blueprint("new", __name__)


@pages.get("/new")
def form() -> str:
    """An empty sheet with the typed words in their place."""
    complaint = asked.complaint()
    words = " ".join(complaint.words.split()) or "..."
    return render_template("new.html", asked=complaint, text=strings.EMPTY_SHEET.format(words=words))


@pages.post("/new")
def save() -> Response:
    """Save the sheet as the shop's own entry and show it with what is remarked on it."""
    slug = asked.in_form("slug").lower()
    asked.bench().save_entry(slug, asked.in_form("text").replace("\r\n", "\n") + "\n", "")
    return redirect(f"/entry/{slug}", 303)
