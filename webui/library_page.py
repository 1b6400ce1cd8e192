"""All fault pictures by area, with how often each was confirmed here."""

from __future__ import annotations

from itertools import groupby

from flask import Blueprint, render_template

from webui import asked

pages = Blueprint("library", __name__)


@pages.get("/library")
def library() -> str:
    """The entries by area."""
    entries = asked.bench().entries()
    areas = [(area, list(group)) for area, group in groupby(entries, key=lambda pair: pair[0].area)]
    return render_template("library.html", areas=areas, count=len(entries))
