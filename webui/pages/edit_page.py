"""Editing an entry as Markdown: checked while typing, saved as the shop's copy, never over somebody else's text."""

from __future__ import annotations

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from kb.base.trouble import NotThere, Refusal
from kb.base.worded import worded
from kb.library import editing
from kb.library.sheet_fields import SheetFields, SheetUnfinished, fields_of, text_of
from kb.library.shelf import EntryChanged, digest
from webui import failures, fields, sheet_form
from webui.pages.entry_page import without_pictures

pages = Blueprint("edit", __name__)

#: What a page answers: a rendered page, with its status unless that is 200.
Answer = Response | str | tuple[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A text being worked on: its entry, the digest of the text it began from, and what is said of it.

    `fields` are those in which it is shown, None where it is shown as text; `unfinished` says why they are no text yet.
    """

    slug: str
    text: str
    base: str
    checked: editing.Checked
    own: bool = False
    differs: bool = False
    trouble: str = ""
    fields: SheetFields | None = None
    focus: str = ""
    unfinished: str = ""


@pages.get("/entry/<slug>/edit")
def form(slug: str) -> Answer:
    """The text of an entry to work on."""
    sheet = fields.bench().entries.on_file(slug)
    if sheet is None:
        raise NotThere(
            worded(
                "there is no entry {slug}; look for it in the library", slug=slug[:60]
            )
        )
    made = draft(slug, sheet.text, digest(sheet.text))
    return shown(in_fields(made) if fields.in_address("as") == "fields" else made)


@pages.post("/entry/<slug>/edit")
def save(slug: str) -> Answer:
    """Save the text as the shop's copy, or with `look` in the form only say what is to be mended."""
    made = worked_on(slug, fields.in_form("base"))
    text, base = made.text, made.base
    if is_looked_at(made):
        return shown(made, 400 if made.unfinished else 200)
    if made.checked.entry is None:
        return shown(replace(made, trouble="editor.unusable"), 400)
    try:
        fields.bench().entries.save(slug, text, base)
    except EntryChanged as changed:
        if digest(changed.current) == digest(text):  # the same form sent twice
            return redirect(f"/entry/{slug}?saved=", 303)
        return conflict(slug, text, changed.current)
    except Refusal as error:
        return failures.page(400, "failure.refused", error.sentence, again=True)
    return redirect(f"/entry/{slug}?saved=", 303)


@pages.get("/entry/<slug>/changes")
def changes(slug: str) -> str:
    """What the shop's text of an entry says otherwise than the stock text."""
    sheet, stock = (
        fields.bench().entries.on_file(slug),
        fields.bench().entries.stock_text(slug),
    )
    if sheet is None or not stock:
        raise NotThere(
            worded(
                "there is no stock text of {slug} to hold this shop's against",
                slug=slug[:60],
            )
        )
    title = sheet.entry.title if sheet.entry else slug
    places = editing.differences(stock, sheet.text)
    return render_template(
        "changes.html",
        slug=slug,
        title=title,
        own=sheet.own,
        base=digest(sheet.text),
        places=places,
    )


@pages.post("/entry/<slug>/away")
def put_away(slug: str) -> Answer:
    """Move the shop's text aside; the stock text counts again, or the entry is gone if it was the shop's alone."""
    bench = fields.bench()
    try:
        kept = bench.entries.put_away(slug, fields.in_form("base"))
    except EntryChanged:
        return redirect(
            f"/entry/{slug}/changes"
            if bench.entries.stock_text(slug)
            else f"/entry/{slug}",
            303,
        )
    return redirect(f"/entry/{slug}/away?{urlencode({'kept': kept.name})}", 303)


@pages.get("/entry/<slug>/away")
def away(slug: str) -> str:
    """Where a text that was moved aside is kept, and how to get it back."""
    bench = fields.bench()
    kept = bench.shop.shelf.kept_away(slug, fields.in_address("kept"))
    if kept is None:
        raise NotThere(
            worded(
                "no text of {slug} is kept under that name; look into entries/.kept",
                slug=slug[:60],
            )
        )
    return render_template(
        "away.html",
        slug=slug,
        name=kept.name,
        stands=bench.entries.on_file(slug) is not None,
    )


@pages.post("/check")
def check() -> str:
    """What is to be mended in a text and how it would look, for a page that asks while its user types."""
    slug = fields.in_form("slug").lower()
    return render_template(
        "checked.html", draft=draft(slug, text_in_form(), ""), preview=without_pictures
    )


def draft(slug: str, text: str, base: str, trouble: str = "") -> Draft:
    """A text to work on with all remarks on it."""
    sheet = fields.bench().entries.on_file(slug)
    own = sheet is not None and sheet.own
    differs = own and bool(fields.bench().entries.stock_text(slug))
    checked = editing.check(text, slug, fields.bench().shop.customs)
    return Draft(
        slug=slug,
        text=text,
        base=base,
        checked=checked,
        own=own,
        differs=differs,
        trouble=trouble,
    )


def shown(made: Draft, status: int = 200) -> tuple[str, int]:
    """The page on which that text is worked on."""
    return render_template("edit.html", draft=made, preview=without_pictures), status


def conflict(slug: str, text: str, current: str) -> tuple[str, int]:
    """The page for two people at one entry: both texts and what differs; saving again replaces the other text."""
    made = draft(slug, text, digest(current))
    places = editing.differences(current, text)
    return render_template(
        "conflict.html",
        draft=made,
        current=current,
        places=places,
        preview=without_pictures,
    ), 409


def worked_on(slug: str, base: str) -> Draft:
    """The text in the form, or its fields as a text, shown in the view that is asked for."""
    typed = sheet_form.typed()
    if typed is None:
        made = draft(slug, text_in_form(), base)
        return in_fields(made) if fields.in_form("as") == "fields" else made
    if more := fields.in_form("more"):
        return _grown(slug, base, typed.with_more(more), more)
    as_text = fields.in_form("as") == "text"
    try:
        text = text_of(typed, slug, fields.bench().shop.customs, to_look_at=as_text)
    except SheetUnfinished as unfinished:
        return replace(
            draft(slug, typed.was, base),
            fields=typed,
            unfinished=str(unfinished.sentence),
        )
    return replace(draft(slug, text, base), fields=None if as_text else typed)


def is_looked_at(made: Draft) -> bool:
    """Whether the form only asks to see the draft: checked, in the other view, with one field more, or unfinished."""
    return bool(
        made.unfinished or any(fields.in_form(name) for name in ("look", "as", "more"))
    )


def in_fields(made: Draft) -> Draft:
    """The draft as fields; where they would lose something of it, as text that says so."""
    known = fields_of(made.text, made.slug, fields.bench().shop.customs)
    return (
        replace(made, fields=known)
        if known
        else replace(made, trouble="editor.no_fields")
    )


def _grown(slug: str, base: str, typed: SheetFields, more: str) -> Draft:
    """The fields with one more, which is where the typing goes on."""
    kind, _, number = more.partition("-")
    places = {
        "cause": f"c{len(typed.causes)}-text",
        "test": f"t{len(typed.tests)}-title",
        "fix": f"f{len(typed.fixes)}-text",
    }
    test = (
        typed.tests[int(number) - 1]
        if number.isdecimal() and 0 < int(number) <= len(typed.tests)
        else None
    )
    focus = places.get(kind, f"t{number}-o{len(test.outcomes)}-text" if test else "")
    return replace(draft(slug, typed.was, base), fields=typed, focus=focus)


def text_in_form() -> str:
    """The text in the form with plain line ends and one at its end."""
    return fields.text_in_form("text").strip("\n") + "\n"
