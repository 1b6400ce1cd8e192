"""The packing of an entry as JSON for the index, and back."""

from __future__ import annotations

import json
import zlib
from dataclasses import fields
from typing import Any

from kb.model import Cause, Entry, Fix, Neighbour, Outcome, Test, Undivided, Urgent


def packed(entry: Entry) -> bytes:
    """The entry without the raw text of its file, in few bytes."""
    own = _fields(entry)
    own.pop("sections")
    told = json.dumps(own, ensure_ascii=False, separators=(",", ":"), default=_fields)
    return zlib.compress(told.encode("utf-8", "surrogatepass"), level=1)


def _fields(record: Any) -> dict[str, Any]:
    return {field.name: getattr(record, field.name) for field in fields(record)}


def unpacked(raw: bytes) -> Entry:
    """The entry that `packed` made bytes of; raises zlib.error for others."""
    given: dict[str, Any] = json.loads(
        zlib.decompress(raw).decode("utf-8", "surrogatepass")
    )
    return Entry(
        slug=given["slug"],
        title=given["title"],
        area=given["area"],
        symptoms=tuple(given["symptoms"]),
        safety=tuple(given["safety"]),
        wordings=tuple(given["wordings"]),
        causes=tuple(Cause(**one) for one in given["causes"]),
        tests=tuple(_test(one) for one in given["tests"]),
        fixes=tuple(_fix(one) for one in given["fixes"]),
        neighbours=tuple(Neighbour(**one) for one in given["neighbours"]),
        undivided=tuple(
            Undivided(**_tuples(one, "causes")) for one in given["undivided"]
        ),
        at_once=tuple(Urgent(**_tuples(one, "said")) for one in given["at_once"]),
        machine=tuple(given["machine"]),
        not_this_if=tuple(given["not_this_if"]),
        extra=tuple((heading, text) for heading, text in given["extra"]),
    )


def _test(given: dict[str, Any]) -> Test:
    outcomes = tuple(
        Outcome(**_tuples(one, "points_to", "clears", "see", "machine"))
        for one in given["outcomes"]
    )
    listed = _tuples(given, "needs", "after", "does", "machine", "untold", "states")
    return Test(**{**listed, "outcomes": outcomes})


def _fix(given: dict[str, Any]) -> Fix:
    return Fix(
        **_tuples(
            given, "causes", "parts", "needs", "after", "does", "machine", "states"
        )
    )


def _tuples(given: dict[str, Any], *names: str) -> dict[str, Any]:
    return {**given, **{name: tuple(given[name]) for name in names}}
