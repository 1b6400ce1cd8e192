"""Marking a picture: the page on which one taps where the thing is, and the place that a tap or the list says."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from flask import render_template, request

from kb.base.trouble import NotThere
from kb.base.worded import worded
from kb.library.album import Picture
from kb.library.drawing import Mark
from webui import fields
from webui.guard.safety import once

#: The largest that a picture stands on that page, in points of the page: a tap is told in them, whatever the screen.
WIDEST, HIGHEST = 340, 480
#: The places of the list for whoever cannot tap, in parts of width and height.
SPOTS = {
    f"{row}{column}" or "middle": (x, y)
    for y, row in ((1 / 6, "top"), (1 / 2, ""), (5 / 6, "bottom"))
    for x, column in ((1 / 6, "left"), (1 / 2, ""), (5 / 6, "right"))
}


def size_shown(picture: Picture) -> tuple[int, int]:
    """How large a picture stands on the page.

    >>> size_shown(Picture("a-1.jpg", "", 1600, 1200)), size_shown(Picture("a-1.jpg", "", 900, 1600))
    ((340, 255), (270, 480))
    """
    scale = min(WIDEST / picture.width, HIGHEST / picture.height)
    return max(round(picture.width * scale), 1), max(round(picture.height * scale), 1)


def page(picture: Picture, action: str, known_by: tuple[str, str], back: str) -> str:
    """The page with that picture; its form goes to `action` with the field that says which picture it is."""
    width, height = size_shown(picture)
    key, value = known_by
    return render_template(
        "mark.html",
        picture=picture,
        action=action,
        key=key,
        value=value,
        back=back,
        width=width,
        height=height,
        spots=SPOTS,
    )


class PutByRecord(Protocol):
    """What names the record by which a picture stands on a job or machine."""

    @property
    def record(self) -> str:
        """The id of that record."""


class MarksIt(Protocol):
    """What shows a marked copy in place of the picture of a record."""

    def __call__(self, record: str, mark: Mark, *, by: str, token: str) -> None:
        """Show it."""


class UnmarksIt(Protocol):
    """What shows the picture of a record without its marks again."""

    def __call__(self, record: str, *, by: str, token: str) -> None:
        """Show it."""


#: The pictures of a job or machine, each with what names its record.
Standing = Iterable[tuple[PutByRecord, Picture]]


def page_of(standing: Standing, address: str, back: str) -> str:
    """The page for the picture of the record in the address, one of those that stand on the job or machine there."""
    record = fields.in_address("record")
    return page(_named(standing, record), f"{address}/mark", ("record", record), back)


def do(standing: Standing, mark: MarksIt, unmark: UnmarksIt) -> None:
    """Mark the picture of the record in the form, or show it without marks where `plain` is in the form; once."""
    record, token = fields.in_form("record"), once()
    by = fields.initials()
    if fields.bench().history().written_with(token):
        return  # the second of two taps
    if fields.in_form("plain"):
        unmark(record, by=by, token=token)
    else:
        mark(record, tapped(_named(standing, record)), by=by, token=token)


def _named(standing: Standing, record: str) -> Picture:
    """The picture of that record; raises NotThere."""
    for told, picture in standing:
        if told.record == record:
            return picture
    raise NotThere(worded("that picture does not stand here, or was taken back before"))


def tapped(picture: Picture) -> Mark:
    """The mark that the form asks for: where it was tapped, or the place of the list.

    A key that presses the picture tells 0, 0 (HTML, 4.10.5.1.19), which no finger hits: then the list says it.
    """
    width, height = size_shown(picture)
    x, y = _coordinate("at.x"), _coordinate("at.y")
    place = SPOTS.get(request.form.get("spot", ""), SPOTS["middle"])
    if x or y:
        place = x / width, y / height
    return Mark("arrow" if request.form.get("shape") == "arrow" else "ring", *place)


def _coordinate(name: str) -> int:
    given = request.form.get(name, "")
    return int(given) if given.isascii() and given.isdecimal() and len(given) < 6 else 0
