"""All fault pictures by area: how often each was confirmed here, whose text it is, what is to mend."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from itertools import groupby

from flask import Blueprint, render_template

from kb.model import Remark
from kb.review.catalogue import Listed
from webui import fields

pages = Blueprint("library", __name__)

#: What may be shown alone, by its name in the address.
SHOWS: Mapping[str, Callable[[Listed], bool]] = {
    "": lambda _: True,
    "own": lambda one: one.own,
    "mend": lambda one: bool(one.to_mend),
    "better": lambda one: bool(one.wishes),
    "new": lambda one: one.entry is not None and not one.jobs,
}

#: The name in the address under which no area is folded.
ALL = "all"
#: So many entries, some four screens of a phone, are shown at once; with more the areas are folded.
UNFOLDED = 30


@pages.get("/library")
def library() -> str:
    """The entries by area that say the words in the address, or all; of many, the areas are folded."""
    words, asked = fields.in_address("q", fields.WORDS_LIMIT), fields.in_address("show")
    show = asked if asked in SHOWS else ""
    catalogue = fields.bench().entries.catalogue()
    found = [one for one in catalogue.listed if one.says(words) and SHOWS[show](one)]
    served = [one for one in found if one.entry]
    areas = [
        (area, list(group)) for area, group in groupby(served, key=lambda one: one.area)
    ]
    return render_template(
        "library.html",
        areas=areas,
        count=len(served),
        broken=[one for one in found if not one.entry],
        words=words,
        show=show,
        catalogue=catalogue,
        filtered=bool(words or show),
        folded=len(served) > UNFOLDED and asked != ALL,
    )


@pages.get("/library/checks")
def checks() -> str:
    """Everything that is to mend in the entries, then what would make them better, by file and line."""
    catalogue = fields.bench().entries.catalogue()
    titles = {f"{one.slug}.md": one for one in catalogue.listed}
    return render_template(
        "checks.html",
        to_mend=_by_file(catalogue.to_mend),
        wishes=_by_file(catalogue.wishes),
        listed=titles,
    )


def _by_file(remarks: Iterable[Remark]) -> list[tuple[str, list[Remark]]]:
    return [
        (file, list(group))
        for file, group in groupby(remarks, key=lambda remark: remark.file)
    ]
