"""Pictures of an entry: taken with a phone, shown beside the text, moved aside when removed."""

from __future__ import annotations

from io import BytesIO
from urllib.parse import quote

from flask import Blueprint, Flask, abort, redirect, request, send_file
from werkzeug.wrappers import Response

from kb.base.trouble import NotThere, Refusal
from kb.base.worded import worded
from kb.library.album import LARGEST_FILE, Picture, original_of
from kb.library.editing import Reference
from webui import failures, fields, marking

pages = Blueprint("pictures", __name__)

#: The caption and the boundaries that come with a picture, in bytes.
AROUND_THE_FILE = 64 * 1024


def make_room(app: Flask) -> None:
    """Let the forms that carry pictures be as large as a picture; to be set before the form is first read."""

    @app.before_request
    def _longer() -> None:
        if request.endpoint in ("pictures.add", "unit.picture", "job.picture"):
            request.max_content_length = LARGEST_FILE + AROUND_THE_FILE


@pages.get("/entry/pictures/<name>.jpg")
def show(name: str) -> Response:
    """One picture, or with `small` in the address its small copy."""
    album = fields.bench().entries.album()
    path = album.path(f"{name}.jpg")
    if path is None:
        abort(404)
    if "small" in request.args and (small := album.small(path.name)):
        return send_file(BytesIO(small), mimetype="image/jpeg", etag=False)
    return send_file(path, mimetype="image/jpeg", conditional=True, etag=True)


@pages.post("/entry/<slug>/pictures")
def add(slug: str) -> Response | tuple[str, int]:
    """Put the picture in the form beside the entry; whoever came from a job is led back to it."""
    place, job = fields.in_form("place"), fields.in_form("job")
    try:
        fields.bench().entries.album().add(
            slug, fields.sent_picture(), fields.in_form("caption"), place
        )
    except Refusal as error:
        return failures.page(400, "failure.picture", error.sentence)
    return redirect(fields.job_address(job) if job else _beside(slug, place), 303)


@pages.post("/entry/<slug>/pictures/change")
def change(slug: str) -> Response:
    """Give a picture other words and another place."""
    named = Reference(
        fields.in_form("file"), fields.in_form("caption"), fields.in_form("place")
    )
    fields.bench().entries.album().change(slug, named)
    return redirect(_beside(slug, named.place), 303)


@pages.get("/entry/<slug>/pictures/mark")
def where_to_mark(slug: str) -> str:
    """The page on which a picture of an entry is tapped where the thing is."""
    picture = _named(slug, fields.in_address("file"))
    return marking.page(
        picture,
        f"/entry/{slug}/pictures/mark",
        ("file", picture.file),
        _beside(slug, picture.place),
    )


@pages.post("/entry/<slug>/pictures/mark")
def mark(slug: str) -> Response:
    """Show a marked copy of a picture in its place; the same tap again changes nothing."""
    album, file = fields.bench().entries.album(), fields.in_form("file")
    shown = [
        one for one in _pictures(slug) if original_of(one.file) == original_of(file)
    ]
    picture = shown[0] if shown else _named(slug, file)
    if picture.file == file:
        album.mark(slug, file, marking.tapped(picture))
    return redirect(_beside(slug, picture.place), 303)


@pages.post("/entry/<slug>/pictures/unmark")
def unmark(slug: str) -> Response:
    """Show a picture without its marks again."""
    picture = _named(slug, fields.in_form("file"))
    fields.bench().entries.album().unmark(slug, picture.file)
    return redirect(_beside(slug, picture.place), 303)


@pages.post("/entry/<slug>/pictures/remove")
def remove(slug: str) -> Response:
    """Take a picture out of the entry; its file is moved aside."""
    fields.bench().entries.album().remove(slug, fields.in_form("file"))
    return redirect(f"/entry/{slug}#pictures", 303)


def _pictures(slug: str) -> tuple[Picture, ...]:
    sheet = fields.bench().entries.on_file(slug)
    return fields.bench().entries.album().of(sheet.text) if sheet else ()


def _named(slug: str, file: str) -> Picture:
    """The picture of an entry in that file; raises NotThere."""
    for one in _pictures(slug):
        if one.file == file:
            return one
    raise NotThere(
        worded(
            "there is no picture {file} in {slug}; it may be removed already",
            file=file[:80],
            slug=slug[:60],
        )
    )


def _beside(slug: str, place: str) -> str:
    """Where a picture stands on the page of its entry: beside a test, a fix or the symptom, else at the foot."""
    return f"/entry/{slug}#{quote(place.replace(' ', '-'), safe='') or 'pictures'}"
