"""The web application over one bench: settings, guards, pages; nothing about faults is decided here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from flask import Flask

from kb.bench.front import Bench
from kb.demo import is_invented
from webui import failures, fields, filters, language
from webui.guard import entering, hosts, safety
from webui.guard.door import Door
from webui.pages import (
    arrival_page,
    bench_page,
    checkout_page,
    confirm_page,
    cost_page,
    edit_page,
    entry_page,
    gap_page,
    job_page,
    keys_page,
    labels_page,
    library_page,
    lot_page,
    models_page,
    new_page,
    parts_page,
    past_page,
    picture_page,
    pile_page,
    retracted_page,
    review_page,
    tools_page,
    unit_page,
)
from webui.serving import replies
from webui.tongue import Tongue

#: The largest form: an entry of 64 KiB, every byte of it percent-encoded, and some room.
LARGEST_FORM = 256 * 1024

PAGES = (
    bench_page,
    checkout_page,
    job_page,
    confirm_page,
    cost_page,
    new_page,
    parts_page,
    pile_page,
    entry_page,
    edit_page,
    picture_page,
    review_page,
    models_page,
    past_page,
    retracted_page,
    library_page,
    entering,
    gap_page,
    keys_page,
    tools_page,
    unit_page,
    lot_page,
    arrival_page,
    labels_page,
)


def create_app(
    bench: Bench,
    *,
    trusted_hosts: Sequence[str] | None = None,
    secret: bytes | None = None,
    tongues: Mapping[str, Tongue] | None = None,
    door: Door | None = None,
) -> Flask:
    """The application on a bench.

    `trusted_hosts` are the host names it answers to (loopback alone unless told otherwise); `secret` signs the
    form tokens and is kept in the shop folder unless given; `tongues` are the languages it speaks, all there are
    unless told; with a `door` every visitor signs in first, without one everything is open.
    """
    app = _bare_app()
    app.extensions["bench"] = bench
    app.extensions["door"] = door
    # of a server; what they fail at is said on the first page
    app.extensions["watches"] = ()
    filters.prepare(app)
    replies.spare_what_is_known(app)
    language.answer_in_languages(app, tongues)
    picture_page.make_room(app)
    names = frozenset(trusted_hosts or hosts.LOOPBACK)
    safety.protect(app, secret or safety.kept_secret(bench.folder), names)
    replies.compress(app)
    replies.shorten(app)
    failures.answer_for(app)
    app.jinja_env.globals.update(
        keys_off=keys_page.keys_off,
        invented=lambda: is_invented(bench.folder),
        trade=bench.shop.customs.trade,
        procedure_of=lambda step: bench.shop.customs.procedures().steps_of(step),
        unit_address=fields.unit_address,
    )
    for page in PAGES:
        app.register_blueprint(page.pages)
    return app


def _bare_app() -> Flask:
    """An application with its limits and its way of templates, before it has a bench or a page."""
    app = Flask(__name__)
    app.config.update(
        MAX_CONTENT_LENGTH=LARGEST_FORM,
        MAX_FORM_MEMORY_SIZE=LARGEST_FORM,
        MAX_FORM_PARTS=200,
    )
    # its redirects would be built from the Host header
    app.url_map.merge_slashes = False
    app.jinja_options = {
        "autoescape": True,
        "trim_blocks": True,
        "lstrip_blocks": True,
        "finalize": filters.finished,
    }
    return app
