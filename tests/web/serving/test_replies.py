"""What is sent over the line: texts compressed for whoever takes it, an address alone to a script that sent a form."""

from __future__ import annotations

import gzip
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from kb.bench.front import Bench
from webui.app import create_app

WORDS = "shows no battery although one is fitted"
ANSWER = f"/answer?q={WORDS}&done=1"
TAKES = {"Accept-Encoding": "gzip, deflate, br"}


@pytest.fixture
def client(stock_bench: Bench, tmp_path: Path) -> Iterator[FlaskClient]:
    stock_bench.asking.models()
    bench = Bench(Path(shutil.copytree(stock_bench.folder, tmp_path / "shop")))
    yield create_app(bench).test_client()
    bench.close()


def test_an_answer_is_a_quarter_of_its_length_on_the_line_and_the_same_text(
    client: FlaskClient,
) -> None:
    plain, sent = client.get(ANSWER), client.get(ANSWER, headers=TAKES)

    assert "Content-Encoding" not in plain.headers
    assert sent.headers["Content-Encoding"] == "gzip"
    assert len(sent.data) < len(plain.data) / 4
    assert sent.content_length == len(sent.data)
    one, other = (
        text.decode().partition('name="token"')[0]
        for text in (plain.data, gzip.decompress(sent.data))
    )
    assert one == other


def test_style_and_script_are_compressed_and_stay_known_to_the_browser(
    client: FlaskClient,
) -> None:
    for name in ("bench.css", "bench.js"):
        sent = client.get(f"/static/{name}", headers=TAKES)
        assert sent.headers["Content-Encoding"] == "gzip"
        assert "Accept-Encoding" in sent.headers["Vary"]
        again = client.get(
            f"/static/{name}", headers=TAKES | {"If-None-Match": sent.headers["ETag"]}
        )
        assert (again.status_code, again.data) == (304, b"")
        assert again.headers["Cache-Control"] == sent.headers["Cache-Control"]
        assert "Content-Security-Policy" in sent.headers
        assert "Content-Security-Policy" not in again.headers


def test_a_script_that_wants_little_is_not_told_what_holds_for_pages(
    client: FlaskClient,
) -> None:
    client.get(ANSWER)  # the first one brings a cookie
    page = client.get(ANSWER)
    text = client.get(ANSWER, headers={"Prefer": "return=minimal"})
    kept = client.get("/static/bench.css", headers={"Prefer": "return=minimal"})

    assert {*page.headers.keys()} - {*text.headers.keys()} == {
        "Content-Language",
        "Content-Security-Policy",
        "Cross-Origin-Opener-Policy",
        "Cross-Origin-Resource-Policy",
        "Referrer-Policy",
        "Vary",
    }
    assert text.headers["X-Content-Type-Options"] == "nosniff"
    assert "Content-Security-Policy" in kept.headers


@pytest.mark.parametrize("refused", ["", "identity", "gzip;q=0"])
def test_whoever_does_not_take_it_gets_the_plain_text(
    client: FlaskClient, refused: str
) -> None:
    sent = client.get(ANSWER, headers={"Accept-Encoding": refused})

    assert "Content-Encoding" not in sent.headers
    assert sent.data.decode().count("<section") >= 2


def test_what_is_sent_while_somebody_types_leaves_out_what_is_folded(
    client: FlaskClient,
) -> None:
    typing, done = (
        client.get(f"/answer?q=no+charge{end}").data.decode() for end in ("", "&done=1")
    )

    assert typing.count("<h3") == done.count("<h3") - done.count('class="parting"')
    assert "Likely causes</summary>" in done
    assert "Likely causes</summary>" not in typing
    assert len(typing) < 0.8 * len(done)
