"""Hostile text into every input of the pages: text it stays, and what is kept is shown back as it was."""

from __future__ import annotations

import re
import time
from itertools import cycle

import pytest
from flask import Flask
from helpers.long import LONG
from werkzeug.test import TestResponse

from kb.bench.front import Bench
from security import hostile
from security.allowed import quoted, strange
from security.walking import HERE, HOME, PLUG, Walk, encoded, fields, post, visitor

PARTS = 4
#: A quick run takes all our own texts and every third of the published ones; all of them with BENCHLORE_LONG=1.
TAKEN = hostile.ALL if LONG else (*hostile.PUBLISHED[::3], *hostile.OWN)
EVERY = [TAKEN[part::PARTS] for part in range(PARTS)]


def test_the_lists_are_as_long_as_promised() -> None:
    assert len(hostile.PUBLISHED) >= 500
    assert len(set(hostile.OWN) - set(hostile.PUBLISHED)) >= 60


def sound(answer: TestResponse, what: object) -> None:
    assert answer.status_code < 500, what
    assert strange(answer.text) == [], what
    assert not [
        name for name, value in answer.headers if "\r" in value or "\n" in value
    ], what
    assert "Traceback" not in answer.text, what


@pytest.mark.parametrize("part", range(PARTS))
def test_in_an_address_it_is_text(walk: Walk, part: int) -> None:
    names, took = fields(), []
    others = cycle(
        [
            address
            for address in walk.addresses("GET")
            if not address.startswith("/static")
        ]
    )
    assert {"q", "model", "unit", "job", "cause", "since"} <= set(names)

    for text in EVERY[part]:
        query = encoded(dict.fromkeys(names, text)).decode()
        for address in ("/", next(others)):
            started = time.process_time()
            answer = walk.client.get(f"{address}?{query}", base_url=HOME)
            took.append(time.process_time() - started)
            sound(answer, (address, text[:60]))
    assert sorted(took)[int(len(took) * 0.99) - 1] < 0.5


@pytest.mark.parametrize("part", range(PARTS))
def test_in_a_path_it_is_text(walk: Walk, part: int) -> None:
    turn = cycle(range(1000))
    for text in EVERY[part]:
        addresses = list(walk.spoiled(text[:3000]))
        for _ in range(2):
            address = addresses[next(turn) % len(addresses)]
            sound(walk.client.get(address, base_url=HOME), address[:80])


@pytest.mark.parametrize("part", range(PARTS))
def test_in_every_field_of_every_form_it_is_text(walk: Walk, part: int) -> None:
    names = fields()
    forms = cycle(walk.addresses("POST"))

    for text in EVERY[part]:
        address = next(forms)
        given = dict.fromkeys(names, text) | {"token": walk.token()}
        sound(post(walk.client, address, given), (address, text[:60]))


def test_every_form_takes_texts_of_every_kind_as_text(walk: Walk) -> None:
    names = fields()
    for number, address in enumerate(walk.addresses("POST")):
        for text in hostile.OWN[number % 5 :: 5]:
            if len(text) < 3000:
                given = dict.fromkeys(names, text) | {"token": walk.token()}
                sound(post(walk.client, address, given), (address, text[:60]))


@pytest.mark.parametrize("part", range(PARTS))
def test_what_is_kept_is_shown_back_equal(walk: Walk, bench: Bench, part: int) -> None:
    """The words carry a number besides, since of two saves that say the same the second is asked about."""
    for number, text in enumerate(EVERY[part]):
        short = text[:150]
        given = {
            "token": walk.token(),
            "cause": PLUG,
            "model": "Tern 13",
            "note": text[:19_000],
            "q": f"{short}{number}",
            "unit": short,
        }
        saved = post(walk.client, "/confirm", given)
        assert saved.status_code == 303, text[:60]

        page = walk.client.get(saved.headers["Location"], base_url=HOME)

        sound(page, text[:60])
        note = hostile.kept(text[:19_000]).strip()
        job = bench.jobs.job(saved.headers["Location"].rpartition("/")[2]).closed
        assert job is not None
        assert (job.note, job.unit) == (note, hostile.kept(short).strip())
        assert not note or note.replace("\r\n", "\n").replace("\r", "\n") in {
            one.replace("\r\n", "\n").replace("\r", "\n") for one in quoted(page.text)
        }, text[:60]


@pytest.mark.parametrize("part", range(PARTS))
def test_in_headers_cookies_tokens_and_file_names_it_is_text(
    app: Flask, walk: Walk, part: int
) -> None:
    for text in EVERY[part]:
        line = re.sub("[\r\n\x00]", " ", text[:3000])
        raw = hostile.sent(line).decode("latin-1")
        headers = {
            "Referer": raw,
            "User-Agent": raw,
            "Accept-Language": raw,
            "Cookie": f"benchlore={raw}; model={raw}",
        }
        sound(app.test_client().get("/", base_url=HOME, headers=headers), text[:60])
        answer = app.test_client().get("/", headers={"Host": raw})
        assert answer.status_code == 400, text[:60]
        assert strange(answer.text) == []
        refused = post(
            walk.client, "/confirm", {"token": text, "cause": PLUG, "model": "Tern 13"}
        )
        assert refused.status_code in (403, 413), text[:60]
        sound(refused, text[:60])


def test_in_the_name_of_a_file_it_is_text(app: Flask, walk: Walk) -> None:
    for text in TAKEN:
        name = hostile.sent(re.sub('[\r\n\x00"]', " ", text[:300])).decode("latin-1")
        for address in walk.addresses("POST"):
            body = (
                f'--b\r\nContent-Disposition: form-data; name="token"\r\n\r\n{walk.token()}\r\n'
                f'--b\r\nContent-Disposition: form-data; name="picture"; filename="{name}"\r\n'
                f"Content-Type: image/jpeg\r\n\r\nnot a picture\r\n--b--\r\n"
            ).encode("latin-1")
            kind = "multipart/form-data; boundary=b"
            if "picture" in address or text == hostile.OWN[0]:
                sound(
                    walk.client.post(
                        address,
                        data=body,
                        content_type=kind,
                        base_url=HOME,
                        headers=HERE,
                    ),
                    (address, text),
                )


def test_a_form_that_was_shown_to_a_stranger_holds_nothing_of_it(app: Flask) -> None:
    answer = post(
        visitor(app),
        "/confirm",
        {"token": "x", "note": "<b>", "passphrase": "four plain words"},
    )

    assert "&lt;b&gt;" in answer.text
    assert "four plain words" not in answer.text
