"""The tools page: what entries ask for and what the shop lacks of it, where machines come from, and the language."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from kb.bench.settings import SOURCES
from webui import fields
from webui.guard.entering import may_write
from webui.guard.safety import remember
from webui.language import LANGUAGE_COOKIE, kept_language

pages = Blueprint("tools", __name__)

MISSING, SHOWN = "missing", "shown"


@pages.get("/tools")
def tools() -> str:
    """The tools, most asked for first; it needs no script."""
    bench = fields.bench()
    return render_template(
        "tools.html", tools=bench.entries.tools(), saved="saved" in request.args, sources=SOURCES,
        source=bench.shop.settings.machines_from, language=kept_language(),
    )  # fmt: skip


@pages.post("/tools")
def save() -> Response:
    """Keep what was ticked or unticked since the page was shown, so that two people do not undo each other."""
    missing, shown = (
        set(request.form.getlist(MISSING)),
        set(request.form.getlist(SHOWN)),
    )
    fields.bench().shop.kept_settings.change_tools(
        sorted(missing - shown), sorted(shown - missing)
    )
    return redirect("/tools?saved=", 303)


@pages.post("/tools/source")
def save_source() -> Response:
    """Keep where the shop's machines come from."""
    fields.bench().shop.kept_settings.set_source(request.form.get("source", ""))
    return redirect("/tools?saved=", 303)


@pages.post("/tools/language")
def save_language() -> Response:
    """Keep the language in this browser; `shop` in the form makes it that of every browser that chose none."""
    answer, code = redirect("/tools?saved=#language", 303), fields.in_form("language")
    if fields.in_form("shop") and may_write():
        fields.bench().shop.kept_settings.set_language(code)
    remember(answer, LANGUAGE_COOKIE, code[:20])
    return answer
