"""Safety of the pages on a shop's network: headers, who may post, and one-time form tokens.

Every request passes `_guard`: a foreign Host is refused, then a form from elsewhere, then who may not read or write,
then what cannot name an entry, then a form without its token. So a new route cannot be forgotten.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import re
import secrets
from collections.abc import Collection
from functools import partial
from pathlib import Path

from flask import Flask, Response, g, request
from werkzeug.exceptions import BadRequest, Forbidden, NotFound
from werkzeug.wrappers import Response as BaseResponse

from kb.library.markdown import is_slug
from webui.failures import StaleForm
from webui.guard import cookies, entering, hosts
from webui.guard.entering import READS

COOKIE = "benchlore"
TOKEN_FIELD = "token"
#: What a browser may keep for an hour: a picture's name is never given to another one by these pages.
PICTURES = "/entry/pictures/"

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
        "manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}


def kept_secret(shop: Path) -> bytes:
    """The shop's signing secret, made on first use and readable by its owner alone; an open page outlives a restart."""
    path = shop / "web.secret"
    shop.mkdir(parents=True, exist_ok=True)
    try:
        handle = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    except FileExistsError:
        kept = path.read_bytes()
        return kept if len(kept) >= 32 else secrets.token_bytes(32)
    except OSError:
        return secrets.token_bytes(32)
    fresh = secrets.token_bytes(32)
    with os.fdopen(handle, "wb") as out:
        out.write(fresh)
    return fresh


def protect(app: Flask, secret: bytes, names: Collection[str]) -> None:
    """Guard every request of the application, answer to these host names alone, put the headers on every answer."""
    app.extensions["form secret"] = secret
    app.before_request(partial(_guard, secret, names))
    app.after_request(_with_headers)
    app.jinja_env.globals["right"] = entering.shown_right
    app.jinja_env.globals["may_write"] = entering.may_write
    app.jinja_env.globals["form_token"] = lambda: new_token(
        secret, str(g.get("visitor", ""))
    )


def _guard(secret: bytes, names: Collection[str]) -> None:
    """Refuse a request that comes from elsewhere, writes without an own form, or asks for what cannot be there."""
    if hosts.named(request.headers.get("Host", "")) not in names:
        raise BadRequest("host")
    _know_the_visitor()
    writes = request.method not in READS and request.routing_exception is None
    if writes and not _from_here():
        raise Forbidden("origin")
    g.foreign = not writes and _led_from_elsewhere()
    if g.foreign and not _may_lead_here():
        raise Forbidden("site")
    entering.admit()
    if not is_slug((request.view_args or {}).get("slug", "any")):
        raise NotFound
    if writes:
        _fresh_form(secret)


def _know_the_visitor() -> None:
    """Keep who visits by the cookie; a visitor without one gets a new name."""
    g.visitor = request.cookies.get(COOKIE, "")
    g.new_visitor = not re.fullmatch("[0-9a-f]{32}", g.visitor)
    if g.new_visitor:
        g.visitor = secrets.token_hex(16)


def _with_headers(response: Response) -> Response:
    """An answer with the headers that every one carries, and how long a browser may keep it."""
    response.headers.update(HEADERS)
    if request.endpoint == "static" and response.status_code in (200, 304):
        response.headers["Cache-Control"] = "public, max-age=86400"
    elif request.path.startswith(PICTURES) and response.status_code in (200, 304):
        response.headers["Cache-Control"] = "private, max-age=3600"
        # after signing out or in it is asked for again
        response.headers["Vary"] = "Cookie"
    else:
        response.headers["Cache-Control"] = "no-store"
        if g.get("new_visitor") and response.mimetype == "text/html":
            remember(response, COOKIE, g.visitor)
    return response


def remember(response: BaseResponse, name: str, value: str) -> None:
    """Keep a value in the browser for a year, out of reach of scripts and of other sites.

    Nothing is kept of what another site led to: a link could fill in every later form.
    """
    if not g.get("foreign"):
        cookies.keep(response, name, value)


def new_token(secret: bytes, visitor: str) -> str:
    """A token for one form of one visitor: a random name, and a signature over it and the visitor.

    The history keeps the random name, so that the same form sent twice is saved once.
    """
    name = secrets.token_hex(16)
    return f"{name}.{_signature(secret, visitor, name)}"


def once() -> str:
    """The one-time name of the form in this request, for the history; the guard has seen its signature."""
    return request.form.get(TOKEN_FIELD, "").partition(".")[0]


def _fresh_form(secret: bytes) -> None:
    """Raise unless the form carries a token that was shown to this visitor."""
    name, _, signature = request.form.get(TOKEN_FIELD, "").partition(".")
    expected = _signature(secret, g.visitor, name)
    if not name or not hmac.compare_digest(
        signature.encode("utf-8", "replace"), expected.encode()
    ):
        raise StaleForm


def _from_here() -> bool:
    """Whether the browser says that the form was on one of these pages.

    Browsers name the relation of the two sites only on loopback and over TLS, elsewhere the origin alone;
    without either it is no browser, and nothing but a browser has a form of ours.
    """
    relation = request.headers.get("Sec-Fetch-Site")
    if relation is not None:
        return relation in ("same-origin", "none")
    return request.headers.get("Origin") == f"{request.scheme}://{request.host}"


def _led_from_elsewhere() -> bool:
    """Whether the browser says that a page of another site asks; of one that says nothing it is not known."""
    return request.headers.get("Sec-Fetch-Site") in ("cross-site", "same-site")


def _may_lead_here() -> bool:
    """Whether a page of another site asks for what may be linked to: a whole page that a person then looks at.

    Pieces of pages, pictures and pages in frames are for these pages alone: asking for them by the thousand would
    cost the bench its time, and they would show another site what is in them.
    """
    shown = (
        request.headers.get("Sec-Fetch-Mode") == "navigate"
        and request.headers.get("Sec-Fetch-Dest") == "document"
    )
    return request.endpoint == "static" or (
        shown and request.endpoint != "bench.answer"
    )


def _signature(secret: bytes, visitor: str, name: str) -> str:
    said = f"{visitor}|{name}".encode("utf-8", "replace")
    return hmac.new(secret, said, hashlib.sha256).hexdigest()[:32]
