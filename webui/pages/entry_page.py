"""One fault picture as a workshop sheet, with the shop's history beside its causes and the pictures taken here."""

from __future__ import annotations

from dataclasses import dataclass, replace

from flask import Blueprint, redirect, render_template
from werkzeug.wrappers import Response

from kb.base.trouble import NotThere
from kb.base.worded import worded
from kb.bench.at_hand import PartAtHand, at_hand
from kb.bench.entries import SheetOnFile
from kb.bench.settings import PALLET
from kb.library import editing
from kb.library.album import MOST_PICTURES, Picture
from kb.library.shelf import digest
from kb.model import Entry
from webui import fields
from webui.fields import TypedComplaint
from webui.guard.entering import may_write

pages = Blueprint("entry", __name__)


@dataclass(frozen=True, slots=True)
class Beside:
    """What stands beside an entry's own text on its page.

    `placed` are the pictures by where they belong, `chosen` the place for the next one; `pallet` says from where the
    shop's machines come.
    """

    neighbours: dict[str, str]
    extra: tuple[tuple[str, str], ...]
    pictures: tuple[Picture, ...]
    placed: dict[str, list[Picture]]
    chosen: str
    room: bool
    differs: bool
    day: str
    base: str
    hand: tuple[PartAtHand, ...]
    pallet: bool


@pages.get("/entry/<slug>")
def entry(slug: str) -> str | Response:
    """The entry of that slug, with counts on the model in the address; one that cannot be used opens for mending."""
    bench, complaint = fields.bench(), fields.complaint()
    sheet = bench.entries.sheet(slug, complaint.model)
    if sheet is None:
        if bench.entries.on_file(slug) is None:
            raise NotThere(
                worded(
                    "there is no entry {slug}; look for it in the library",
                    slug=slug[:60],
                )
            )
        if not may_write():
            raise NotThere(
                worded(
                    "the entry {slug} cannot be used as it stands; tell somebody who may write here",
                    slug=slug[:60],
                )
            )
        return redirect(f"/entry/{slug}/edit", 303)
    return render_template(
        "entry.html", sheet=sheet, asked=complaint, beside=_beside(sheet, complaint)
    )


def _beside(sheet: SheetOnFile, asked: TypedComplaint) -> Beside:
    bench = fields.bench()
    parts = tuple(
        dict.fromkeys(part for fix in sheet.entry.fixes for part in fix.parts)
    )
    album = bench.entries.album().of(sheet.text)
    shown = tuple(
        replace(one, place=editing.place_in(sheet.entry, one.place)) for one in album
    )
    return Beside(
        _titles(sheet.entry),
        without_pictures(sheet.entry),
        shown,
        placed=_by_place(shown),
        chosen=editing.place_in(sheet.entry, fields.in_address("place")),
        room=len(editing.pictures_in(sheet.text)) < MOST_PICTURES,
        differs=sheet.own and bool(bench.entries.stock_text(sheet.entry.slug)),
        day=bench.shop.clock().date().isoformat(),
        base=digest(sheet.text),
        hand=at_hand(bench, parts, asked.model, asked.unit),
        pallet=bench.shop.settings.machines_from == PALLET,
    )


def _by_place(shown: tuple[Picture, ...]) -> dict[str, list[Picture]]:
    """The pictures by the place of the entry that they belong to."""
    placed: dict[str, list[Picture]] = {}
    for one in shown:
        placed.setdefault(one.place, []).append(one)
    return placed


def without_pictures(entry: Entry) -> tuple[tuple[str, str], ...]:
    """The sections of the shop's own choosing, without the pictures, which are drawn by themselves."""
    told = (
        (heading, editing.without_references(text)) for heading, text in entry.extra
    )
    return tuple((heading, text) for heading, text in told if text)


def _titles(entry: Entry) -> dict[str, str]:
    """The titles of the entries named under "See also"; one that does not exist is left out."""
    found = {
        one.slug: fields.bench().entries.entry(one.slug) for one in entry.neighbours
    }
    return {slug: neighbour.title for slug, neighbour in found.items() if neighbour}
