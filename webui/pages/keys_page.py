"""The keys that spare the mouse: what they do, and a switch for those whom they disturb."""

from __future__ import annotations

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from webui import fields
from webui.guard.safety import remember

pages = Blueprint("keys", __name__)

KEYS_COOKIE, OFF = "keys", "off"


def keys_off() -> bool:
    """Whether this browser wants no single keys."""
    return request.cookies.get(KEYS_COOKIE) == OFF


@pages.get("/keys")
def keys() -> str:
    """The list of keys; it needs no script."""
    return render_template("keys.html", off=keys_off())


@pages.post("/keys")
def switch() -> Response:
    """Switch the single keys off or on in this browser."""
    answer = redirect("/keys", 303)
    remember(answer, KEYS_COOKIE, OFF if fields.in_form("keys") == OFF else "")
    return answer
