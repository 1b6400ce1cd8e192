"""The web application over one bench: settings, guards, pages; nothing about faults is decided here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from flask import Flask

from kb.bench import Bench
from webui import (
    bench_page,
    confirm_page,
    entry_page,
    failures,
    job_page,
    library_page,
    new_page,
    review_page,
    safety,
    shown,
    strings,
)

#: Names under which a browser on this computer reaches the pages.
LOOPBACK = ("localhost", "127.0.0.1")
#: The largest form: an entry of 64 KiB, every byte of it percent-encoded, and some room.
LARGEST_FORM = 256 * 1024

PAGES = (bench_page, job_page, confirm_page, new_page, entry_page, review_page, library_page)


def create_app(
    bench: Bench,
    *,
    trusted_hosts: Sequence[str] | None = None,
    secret: bytes | None = None,
    text: Mapping[str, str] = strings.ENGLISH,
) -> Flask:
    """The application on a bench.

    `trusted_hosts` are the host names it answers to (loopback alone unless told otherwise); `secret` signs the
    form tokens and is kept in the shop folder unless given; `text` holds every string that is shown.
    """
    app = Flask(__name__)
    app.config.update(
        TRUSTED_HOSTS=list(trusted_hosts or LOOPBACK),
        MAX_CONTENT_LENGTH=LARGEST_FORM,
        MAX_FORM_MEMORY_SIZE=LARGEST_FORM,
        MAX_FORM_PARTS=200,
    )
    app.extensions["bench"] = bench
    app.jinja_options = {"autoescape": True, "trim_blocks": True, "lstrip_blocks": True}
    shown.prepare(app, text)
    safety.protect(app, secret or safety.kept_secret(bench.shop))
    failures.answer_for(app)
    for page in PAGES:
        app.register_blueprint(page.pages)
    return app
