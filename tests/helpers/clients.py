"""A browser without a page: forms sent by hand, and every route."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator

from flask import Flask
from flask.testing import FlaskClient

from helpers.visiting import HOME
from kb.bench.front import Bench

PLUG = "no-battery/plug"
POSTS = {"Origin": HOME}


def routes(app: Flask, bench: Bench) -> Iterator[tuple[str, str]]:
    """Every (method, address), with something real in the place of names."""
    job = bench.jobs.begin("no battery", "Tern 13")
    for rule in app.url_map.iter_rules():
        names = {"job": job, "slug": "no-battery", "filename": "bench.css"}
        address = rule.rule
        for name in rule.arguments:
            address = re.sub(rf"<(?:\w+:)?{name}>", names.get(name, "x"), address)
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"}):
            yield method, address


def token(
    client: FlaskClient, address: str = f"/confirm?cause={PLUG}&model=Tern+13"
) -> str:
    found = re.search(
        'name="token" value="([^"]+)"', client.get(address, base_url=HOME).text
    )
    assert found
    return found[1]


def kept(bench: Bench) -> tuple[object, str]:
    """What the shop holds: the history's last link and every file of the shop's own entries."""
    files = sorted((bench.folder / "entries").glob("*"))
    return bench.history().tip(), hashlib.sha256(
        b"".join(file.read_bytes() for file in files)
    ).hexdigest()
