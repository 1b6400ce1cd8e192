"""One fault picture as a page, with the shop's history beside its causes."""

from __future__ import annotations

from flask import Blueprint, render_template

from kb.model import Entry
from webui import asked

pages = Blueprint("entry", __name__)


@pages.get("/entry/<slug>")
def entry(slug: str) -> str:
    """The entry of that slug, with counts on the model in the address."""
    model = asked.complaint().model
    sheet = asked.bench().entry(slug, model)
    if sheet is None:
        raise LookupError(f"there is no entry {slug[:60]}; look for it in the library")
    return render_template("entry.html", sheet=sheet, model=model, neighbours=_titles(sheet.entry))


def _titles(entry: Entry) -> dict[str, str]:
    """The titles of the entries named under "See also"; one that does not exist is left out."""
    found = {one.slug: asked.bench().read(one.slug) for one in entry.neighbours}
    return {slug: neighbour.title for slug, neighbour in found.items() if neighbour}
