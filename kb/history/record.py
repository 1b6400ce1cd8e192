"""A record, one line of the history: its one spelling, and the chain that seals each by the one before."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass

#: How the token begins of a record that was taken in from elsewhere; the id that it had there comes after it.
TAKEN_IN = "from "

_ENCODER = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
)


@dataclass(frozen=True, slots=True)
class Record:
    """What was noted (`kind`, `body` as canonical JSON), on which job, by which shop, when (UTC)."""

    seq: int
    id: str
    job: str
    shop: str
    at: str
    kind: str
    body: str
    token: str | None
    chain: str

    @property
    def origin(self) -> str:
        """The id that it had where it was taken in from, empty if it was written here."""
        return (
            self.token.removeprefix(TAKEN_IN)
            if self.token and self.token.startswith(TAKEN_IN)
            else ""
        )


def canonical(content: object) -> str:
    """The one JSON spelling of a content.

    >>> canonical({"b": 1, "a": [True, None]})
    '{"a":[true,null],"b":1}'
    """
    return _ENCODER.encode(content)


def chain_of(previous: str, record: Record) -> str:
    """SHA-256, in hexadecimal, of the previous chain value and the record without its own.

    >>> record = Record(1, "r", "j", "s", "2026-11-24T10:15:00Z", "note", "{}", None, "")
    >>> text = 'p[1,"r","j","s","2026-11-24T10:15:00Z","note","{}",null]'
    >>> chain_of("p", record) == hashlib.sha256(text.encode()).hexdigest()
    True
    """
    row = [
        record.seq,
        record.id,
        record.job,
        record.shop,
        record.at,
        record.kind,
        record.body,
        record.token,
    ]
    return hashlib.sha256(
        (previous + canonical(row)).encode("utf-8", "surrogateescape")
    ).hexdigest()


def first_link(shop: str, created: str) -> str:
    """The chain value before the first record; it ties the records to their shop."""
    return hashlib.sha256(
        canonical(["benchlore history", shop, created]).encode("utf-8")
    ).hexdigest()
