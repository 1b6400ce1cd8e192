"""A complaint typed slowly, letter by letter: what the pages send for it, asked as their script asks (bench.js)."""

from __future__ import annotations

import gzip
from dataclasses import dataclass

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from helpers.places import ROOT
from helpers.visiting import HOME

#: Answers that the script keeps.
KEPT = 12
#: What waitress adds to the headers of each reply.
ADDED = "Date: Mon, 30 Nov 2026 21:00:00 GMT\r\nServer: waitress\r\n"


@dataclass
class Slowly:
    """What was sent for one complaint, in bytes with headers, and how many answers came whole."""

    weight: int = 0
    whole: int = 0


def long_complaints() -> list[str]:
    """The complaints of 26 to 60 letters among those that the search was developed with."""
    lines = (
        (ROOT / "tests" / "data" / "queries-dev.tsv").read_text("utf-8").splitlines()
    )
    told = [line.partition("\t")[0] for line in lines[1:]]
    return [words for words in told if 26 <= len(words) <= 60]


def typed(client: FlaskClient, words: str) -> Slowly:
    """Ask for an answer after each letter, and once more in full if the last one was told to be known."""
    sent, kept = Slowly(), dict[str, tuple[bool, str]]()
    status = 200
    for length in range(1, len(words) + 1):
        begun = words[:length]
        reply = _asked(client, begun, _offered(kept, begun.strip()))
        tag, status = reply.headers.get("ETag", ""), reply.status_code
        _weigh(sent, reply)
        if tag:
            had = kept.pop(tag, None)
            kept[tag] = had if had and status == 304 else (_read(reply), begun.strip())
            if len(kept) > KEPT:
                del kept[next(iter(kept))]
    if status == 304:
        _weigh(sent, _asked(client, words, []))
    return sent


def _asked(client: FlaskClient, words: str, offered: list[str]) -> TestResponse:
    headers = {"Accept-Encoding": "gzip", "Prefer": "return=minimal"}
    if offered:
        headers["If-None-Match"] = ", ".join(offered)
    return client.get(
        "/answer",
        query_string={"q": words, "model": "", "unit": ""},
        headers=headers,
        base_url=HOME,
    )


def _offered(kept: dict[str, tuple[bool, str]], words: str) -> list[str]:
    """The tags of the answers that can be worded anew."""
    return [
        tag for tag, (quotes, to) in kept.items() if not quotes or words.startswith(to)
    ]


def _read(reply: TestResponse) -> bool:
    """Whether an answer says that it read a word as another."""
    packed = reply.headers.get("Content-Encoding") == "gzip"
    return b'class="readas"' in (gzip.decompress(reply.data) if packed else reply.data)


def _weigh(sent: Slowly, reply: TestResponse) -> None:
    head = f"HTTP/1.1 {reply.status}\r\n{reply.headers}{ADDED}"
    sent.weight += len(head) + len(reply.data)
    sent.whole += reply.status_code == 200
