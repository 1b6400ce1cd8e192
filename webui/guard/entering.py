"""Signing in and out on a shop's network, and what each visitor may do.

On loopback there is no door: whoever sits at the computer has its files anyway. Beyond loopback every visitor
shows a passphrase first, also one on the serving computer itself, as a proxy there would make all the world local.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from enum import Enum
from typing import cast

from flask import (
    Blueprint,
    current_app,
    g,
    make_response,
    redirect,
    render_template,
    request,
)
from werkzeug.http import parse_cookie
from werkzeug.wrappers import Response

from webui import fields
from webui.guard import cookies, hosts, tries
from webui.guard.door import (
    KNOWN_LASTS,
    LASTS,
    Door,
    DoorTrouble,
    Right,
    TooSoon,
    WrongPassphrase,
    group,
)

pages = Blueprint("door", __name__)

READS = ("GET", "HEAD", "OPTIONS")
#: What a visitor without a session may ask for; all of it changes nothing in the shop.
OPEN = ("static", "door.form", "door.enter", "door.leave")
#: What changes nothing but the visitor's own browser.
OWN = ("/keys", "/tools/language")
#: What the views are called whose pages are nothing but a form to write with.
FORM = ".form"
_OWN_PATH = re.compile(r"/(?![/\\])[^\\\x00-\x20\x7f]{0,2000}")


class Acquaintance(Enum):
    """Whether a visitor has a session, or had one in this browser before, or neither."""

    HERE = "here"
    BEFORE = "before"
    NOT = "not"


class NotSignedIn(Exception):
    """The visitor has shown no passphrase yet."""


class ReadingOnly(Exception):
    """The visitor showed the reading passphrase and wants to write."""


class ReadingOnlyForm(ReadingOnly):
    """The same, told before anything is typed: what was asked for is a form to write with."""


def door() -> Door | None:
    """The door of this application; None where everything is open."""
    return cast("Door | None", current_app.extensions["door"])


def known_by(door: Door, headers: Mapping[str, str]) -> Acquaintance:
    """How the sender of some headers is known, read before their request has come in whole."""
    sent = parse_cookie(headers.get("COOKIE", ""))
    try:
        for secure in (False, True):
            if door.right_of(sent.get(cookies.named(cookies.SESSION, secure), "")):
                return Acquaintance.HERE
        if any(
            door.knows(sent.get(cookies.named(cookies.KNOWN, secure), ""))
            for secure in (False, True)
        ):
            return Acquaintance.BEFORE
    except DoorTrouble:  # whoever asks for a page is told
        pass
    return Acquaintance.NOT


def admit() -> None:
    """Let the visitor of this request pass, or raise NotSignedIn, ReadingOnly or ReadingOnlyForm."""
    held = door()
    if held is None:
        g.right = ""
        return
    g.right = right = held.right_of(request.cookies.get(cookies.session_name(), ""))
    if request.endpoint in OPEN:
        return
    if right is None:
        raise NotSignedIn
    if right is Right.READ and request.method not in READS and request.path not in OWN:
        raise ReadingOnly
    if right is Right.READ and str(request.endpoint).endswith(FORM):
        raise ReadingOnlyForm


def shown_right() -> str:
    """For the head of a page: `read` or `write` of a signed-in visitor, empty where there is no door or no session."""
    return str(g.get("right") or "")


def may_write() -> bool:
    """Whether this visitor may save things; pages leave out for others what would be refused."""
    return bool(g.get("right") != Right.READ)


@pages.get("/enter")
def form() -> Response:
    """The sign-in page; where there is no door, the bench."""
    if door() is None:
        return redirect("/", 303)
    return _page(own_path(fields.in_address("to", 2000)))


@pages.post("/enter")
def enter() -> Response:
    """Open a session for whoever knows a passphrase, and lead to where they wanted."""
    held, to = door(), own_path(request.form.get("to", ""))
    if held is None:
        return redirect("/", 303)
    browser, address = (
        request.cookies.get(cookies.named(cookies.KNOWN), ""),
        request.remote_addr or "",
    )
    try:
        token, right = held.enter(request.form.get("passphrase", ""), address, browser)
    except WrongPassphrase:
        tries.note(group(address))
        return _page(to, "enter.wrong", 401)
    except TooSoon as error:
        tries.note(group(address))
        page = _page(to, "enter.wait", 429, error.seconds)
        page.headers["Retry-After"] = str(error.seconds)
        return page
    # the session that this one takes the place of
    held.leave(request.cookies.get(cookies.session_name(), ""))
    answer = redirect(to, 303)
    cookies.keep(answer, cookies.session_name(), token, round(LASTS[right]))
    if not held.knows(browser):
        cookies.keep(
            answer,
            cookies.named(cookies.KNOWN),
            held.remember_browser(),
            round(KNOWN_LASTS),
        )
    return answer


@pages.post("/leave")
def leave() -> Response:
    """End the session of this visitor, here and in the browser."""
    held = door()
    if held is not None:
        held.leave(request.cookies.get(cookies.session_name(), ""))
    answer = redirect("/enter" if held else "/", 303)
    cookies.keep(answer, cookies.session_name(), "")
    return answer


def _page(to: str, wrong: str = "", status: int = 200, seconds: int = 0) -> Response:
    """The sign-in page; what is typed on the serving computer itself passes no network."""
    here = hosts.named(request.host) in hosts.LOOPBACK
    return make_response(
        render_template("enter.html", to=to, wrong=wrong, seconds=seconds, here=here),
        status,
    )


def own_path(given: str) -> str:
    r"""The path if it is one of these pages, else the bench; nothing leads to another site.

    >>> own_path("/job/1?q=x"), own_path("//evil.example"), own_path("/\\evil.example"), own_path("http://evil.example")
    ('/job/1?q=x', '/', '/', '/')
    """
    return given if _OWN_PATH.fullmatch(given) else "/"
