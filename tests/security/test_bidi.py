"""Direction marks in what somebody typed: kept, but unable to turn the text beside them."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from flask import Flask

from kb.bench.front import Bench
from kb.model import Confirmation, Finding
from security.walking import HOME, PLUG, visitor
from webui.filters import balanced

TURNED = "\u202e13-T"
VOID = frozenset(["input", "meta", "link", "br", "hr", "img"])


class _Loose(HTMLParser):
    """Collects text with a direction mark that no element keeps to itself."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[bool] = []
        self.loose: list[str] = []
        self.seen = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(
                tag in ("bdi", "title", "textarea") or dict(attrs).get("dir") == "auto"
            )

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        self.seen += "\u202e" in data
        if "\u202e" in data and not any(self.open):
            self.loose.append(data[:80])


@pytest.mark.parametrize("text", [TURNED, f"\u2069{TURNED}"])
def test_names_and_tags_keep_their_direction_to_themselves(
    app: Flask, bench: Bench, text: str
) -> None:
    open_job = bench.jobs.begin(f"no battery {text}", text, text)
    bench.jobs.found(open_job, Finding("no-battery/x", text))
    bench.jobs.did_not_help(open_job, PLUG)
    closed = bench.jobs.confirm(
        Confirmation(
            PLUG,
            model=text,
            unit=text,
            part=text,
            donor=text,
            by=text,
            words=text,
            note=text,
        )
    ).job
    bench.jobs.retract(
        bench.jobs.confirm(Confirmation(PLUG, model="Tern 13")).job, text
    )
    client, seen = visitor(app), 0
    client.set_cookie("model", "x")

    for address in (
        "/",
        f"/job/{open_job}",
        f"/job/{closed}",
        "/review",
        f"/confirm?cause={PLUG}&job={open_job}",
    ):
        reader = _Loose()
        reader.feed(client.get(address, base_url=HOME).text)
        assert reader.loose == [], address
        seen += reader.seen
    assert seen >= 8


def test_a_closing_sign_cannot_open_the_way_out() -> None:
    assert balanced(f"a\u2069{TURNED}") == f"a\ufffd{TURNED}"
    assert balanced("\u2067a\u2069b\u2069c") == "\u2067a\u2069b\ufffdc"
