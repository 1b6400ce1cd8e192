"""The tools that entries ask for, each with a box to tick where the shop lacks it."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from webui import fields

pages = Blueprint("tools", __name__)

MISSING, SHOWN = "missing", "shown"


@pages.get("/tools")
def tools() -> str:
    """The tools, most asked for first; it needs no script."""
    return render_template("tools.html", tools=fields.bench().entries.tools(), saved="saved" in request.args)


@pages.post("/tools")
def save() -> Response:
    """Keep what was ticked or unticked since the page was shown, so that two people do not undo each other."""
    missing, shown = set(request.form.getlist(MISSING)), set(request.form.getlist(SHOWN))
    fields.bench().shop.kept_settings.change_tools(sorted(missing - shown), sorted(shown - missing))
    return redirect("/tools?saved=", 303)
