"""Pictures of an entry: taken with a phone, shown beside the text, moved aside when removed."""

from __future__ import annotations

from io import BytesIO
from urllib.parse import quote

from flask import Blueprint, Flask, abort, redirect, request, send_file
from werkzeug.wrappers import Response

from kb.base.trouble import Refusal
from kb.library.album import LARGEST_FILE
from kb.library.editing import Reference
from webui import failures, fields

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
        fields.bench().entries.album().add(slug, fields.sent_picture(), fields.in_form("caption"), place)
    except Refusal as error:
        return failures.page(400, "failure.picture", error.sentence)
    return redirect(fields.job_address(job) if job else _beside(slug, place), 303)


@pages.post("/entry/<slug>/pictures/change")
def change(slug: str) -> Response:
    """Give a picture other words and another place."""
    named = Reference(fields.in_form("file"), fields.in_form("caption"), fields.in_form("place"))
    fields.bench().entries.album().change(slug, named)
    return redirect(_beside(slug, named.place), 303)


@pages.post("/entry/<slug>/pictures/remove")
def remove(slug: str) -> Response:
    """Take a picture out of the entry; its file is moved aside."""
    fields.bench().entries.album().remove(slug, fields.in_form("file"))
    return redirect(f"/entry/{slug}#pictures", 303)


def _beside(slug: str, place: str) -> str:
    """Where a picture stands on the page of its entry: beside a test, a fix or the symptom, else at the foot."""
    return f"/entry/{slug}#{quote(place.replace(' ', '-'), safe='') or 'pictures'}"
