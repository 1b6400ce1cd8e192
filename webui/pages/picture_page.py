"""Pictures of an entry: taken with a phone, shown beside the text, moved aside when removed."""

from __future__ import annotations

from flask import Blueprint, Flask, abort, redirect, request, send_file
from werkzeug.wrappers import Response

from kb.base.trouble import Refusal
from kb.library.album import LARGEST_FILE
from webui import failures, fields

pages = Blueprint("pictures", __name__)

#: The caption and the boundaries that come with a picture, in bytes.
AROUND_THE_FILE = 64 * 1024


def make_room(app: Flask) -> None:
    """Let the forms that carry pictures be as large as a picture; to be set before the form is first read."""

    @app.before_request
    def _longer() -> None:
        if request.endpoint in ("pictures.add", "unit.picture"):
            request.max_content_length = LARGEST_FILE + AROUND_THE_FILE


@pages.get("/entry/pictures/<name>.jpg")
def show(name: str) -> Response:
    """One picture."""
    path = fields.bench().entries.album().path(f"{name}.jpg")
    if path is None:
        abort(404)
    return send_file(path, mimetype="image/jpeg", conditional=True, etag=True)


@pages.post("/entry/<slug>/pictures")
def add(slug: str) -> Response | tuple[str, int]:
    """Put the picture in the form beside the entry."""
    try:
        fields.bench().entries.album().add(slug, fields.sent_picture(), fields.in_form("caption"))
    except Refusal as error:
        return failures.page(400, "failure.picture", error.sentence)
    return redirect(f"/entry/{slug}#pictures", 303)


@pages.post("/entry/<slug>/pictures/remove")
def remove(slug: str) -> Response:
    """Take a picture out of the entry; its file is moved aside."""
    fields.bench().entries.album().remove(slug, fields.in_form("file"))
    return redirect(f"/entry/{slug}#pictures", 303)
