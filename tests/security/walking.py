"""A walk over every route of an application, so that a new one cannot be forgotten."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote_plus, urlencode

from flask import Flask
from flask.testing import FlaskClient
from werkzeug.test import TestResponse

import webui
from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.model import Confirmation
from security import hostile
from webui.guard.safety import COOKIE, new_token

HOME = "http://localhost"
HERE = {"Origin": HOME}
PLUG = "no-battery/plug"
#: Files that reading may touch: the index is made anew at will, the secret and the door are no part of the memory.
_BESIDE = re.compile(r"index\.db.*|web\.secret|door\.db.*|\.lock")
_NAMED = re.compile(
    r"""(?:in_form|in_address|number|(?:form|args)\.get)\(\s*["'](\w+)["']"""
)


class Walk:
    """The routes of an application over a bench with one open and one closed job."""

    def __init__(self, app: Flask, bench: Bench) -> None:
        self.app = app
        self.bench = bench
        self.client = visitor(app)
        self.open_job = bench.jobs.begin("no battery", "Tern 13", "T-01")
        bench.arrivals.arrive(
            Arrived(
                tag="T-01", lot="P1", model="Tern 13", words="no battery", place="A1"
            )
        )
        self.closed_job = bench.jobs.confirm(
            Confirmation(PLUG, model="Tern 13", words="no battery", part="plug")
        ).job

    def addresses(self, method: str) -> list[str]:
        """Every route of that method with real names in it."""
        rules = sorted(self.app.url_map.iter_rules(), key=str)
        return [
            re.sub(r"<(?:\w+:)?(\w+)>", lambda part: self._real(part[1]), rule.rule)
            for rule in rules
            if method in (rule.methods or ())
        ]

    def spoiled(self, text: str) -> Iterator[str]:
        """Every route that has a name in it, with this text in the name's place."""
        for rule in sorted(self.app.url_map.iter_rules(), key=str):
            if rule.arguments:
                yield re.sub(
                    r"<(?:\w+:)?(\w+)>",
                    lambda _: quote_plus(hostile.sent(text)).replace("+", "%20"),
                    rule.rule,
                )

    def _real(self, name: str) -> str:
        known = {
            "job": self.open_job,
            "slug": "no-battery",
            "tag": "T-01",
            "filename": "bench.css",
            "name": "none",
        }
        known |= {"lot": "P1", "deed": "note"}
        return known.get(name, "x")

    def token(self) -> str:
        """A fresh token for this visitor, as a page would show it."""
        cookie = self.client.get_cookie(COOKIE)
        assert cookie
        return new_token(self.app.extensions["form secret"], cookie.value)

    def memory(self) -> str:
        """A digest of every file of the shop that reading must not change."""
        shop = self.bench.folder
        files = [
            path
            for path in sorted(shop.rglob("*"))
            if path.is_file() and not _BESIDE.fullmatch(path.name)
        ]
        found = hashlib.sha256()
        for path in files:
            found.update(str(path.relative_to(shop)).encode() + path.read_bytes())
        return found.hexdigest()


def visitor(app: Flask) -> FlaskClient:
    """A browser that has seen a page before."""
    client = app.test_client()
    client.get("/enter" if app.extensions["door"] else "/", base_url=HOME)
    return client


def token(
    client: FlaskClient, address: str = f"/confirm?cause={PLUG}&model=Tern+13"
) -> str:
    found = re.search(
        'name="token" value="([^"]+)"', client.get(address, base_url=HOME).text
    )
    assert found
    return found[1]


def fields() -> list[str]:
    """The name of every field that some page reads from a form or an address."""
    sources = Path(webui.__file__).parent.rglob("*.py")
    return sorted(
        {name for path in sources for name in _NAMED.findall(path.read_text("utf-8"))}
        - {"token"}
    )


def encoded(given: dict[str, str]) -> bytes:
    """A form as it is sent, hostile bytes included."""
    return urlencode(
        {name: hostile.sent(text) for name, text in given.items()}
    ).encode()


def post(
    client: FlaskClient,
    address: str,
    given: dict[str, str],
    headers: dict[str, str] = HERE,
) -> TestResponse:
    """Send a form."""
    kind = "application/x-www-form-urlencoded"
    return client.post(
        address, data=encoded(given), content_type=kind, base_url=HOME, headers=headers
    )
