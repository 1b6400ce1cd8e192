"""Writing down a fault picture that the library does not have yet, beginning with what is known from the bench."""

from __future__ import annotations

from dataclasses import replace

from flask import Blueprint, redirect, render_template

from kb.base.trouble import Refusal
from kb.library import editing, markdown
from kb.library.shelf import EntryChanged
from kb.model import Finding, Test, named_test
from webui import fields, sheet_form, strings
from webui.fields import TypedComplaint
from webui.pages.edit_page import (
    Answer,
    Draft,
    draft,
    in_fields,
    is_looked_at,
    worked_on,
)
from webui.pages.entry_page import without_pictures

pages = Blueprint("new", __name__)


@pages.get("/new")
def form() -> Answer:
    """A whole sheet with the typed words, the machine and what its tests have shown in their places."""
    complaint = fields.complaint()
    area = ""
    seen: list[tuple[Finding, Test | None]] = []
    if complaint.job:
        standing = fields.bench().jobs.standing(complaint.job)
        complaint = TypedComplaint(
            standing.job.words, standing.job.model or complaint.model, standing.job.unit
        )
        entry_of = fields.bench().entries.entry
        seen = [
            (finding, named_test(finding.test, entry_of))
            for finding in standing.job.outcomes
        ]
        area = standing.answer.entries[0].area if standing.answer.entries else ""
    text = editing.first_sheet(
        fields.bench().shop.customs.empty_sheet(),
        complaint.words,
        area,
        seen,
        _where(complaint.model, bool(seen)),
    )
    made = draft(markdown.to_slug(complaint.words, 40), text, "")
    return _shown(made if fields.in_address("as") == "text" else in_fields(made))


@pages.post("/new")
def save() -> Answer:
    """Save the sheet as the shop's own entry, or with `look` in the form only say what is to be mended."""
    typed = sheet_form.typed()
    slug = fields.in_form("slug").lower() or markdown.to_slug(
        typed.title if typed else "", 40
    )
    made = worked_on(slug, "")
    if is_looked_at(made):
        return _shown(made, 400 if made.unfinished else 200)
    if not markdown.is_slug(slug):
        return _shown(replace(made, trouble="new.no_slug"), 400)
    if made.checked.entry is None:
        return _shown(replace(made, trouble="editor.unusable"), 400)
    try:
        fields.bench().entries.save(slug, made.text, "")
    except EntryChanged as changed:
        if changed.current != made.text:
            return _shown(replace(made, trouble="new.taken"), 409)
    except Refusal:
        return _shown(replace(made, trouble="editor.too_long"), 400)
    return redirect(f"/entry/{slug}?saved=", 303)


def _shown(made: Draft, status: int = 200) -> tuple[str, int]:
    return render_template("new.html", draft=made, preview=without_pictures), status


def _where(model: str, anything: bool) -> str:
    """The heading over what was seen on the bench; empty if neither the machine nor a finding is known."""
    if model:
        return strings.SEEN_ON.format(model=" ".join(model.split()).strip("# "))
    return strings.SEEN if anything else ""
