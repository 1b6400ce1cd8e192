"""Cookies: what is kept in a visitor's browser, out of reach of scripts and of other sites."""

from __future__ import annotations

from flask import request
from werkzeug.wrappers import Response

YEAR = 365 * 24 * 3600


#: The cookies of a session and of a browser that signed in here before.
SESSION, KNOWN = "benchlore-session", "benchlore-known"


def named(name: str, secure: bool | None = None) -> str:
    """A cookie's name; over TLS it makes browsers refuse it from anywhere but this host (RFC 6265bis)."""
    over_tls = request.is_secure if secure is None else secure
    return f"__Host-{name}" if over_tls else name


def session_name() -> str:
    """The cookie of a session."""
    return named(SESSION)


def keep(response: Response, name: str, value: str, seconds: int = YEAR) -> None:
    """Keep a value in the browser for so long; an empty one is taken out of it."""
    secure = request.is_secure
    if value:
        response.set_cookie(
            name,
            value,
            max_age=seconds,
            path="/",
            httponly=True,
            samesite="Strict",
            secure=secure,
        )
    else:
        response.delete_cookie(
            name, path="/", httponly=True, samesite="Strict", secure=secure
        )
