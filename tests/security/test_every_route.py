"""What holds for every route: found by walking the address map, so that a new one cannot be forgotten."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask import Flask
from flask.testing import FlaskClient
from helpers.visiting import Page
from werkzeug.test import TestResponse

from kb.bench.front import Bench
from security.allowed import strange
from security.walking import HERE, HOME, PLUG, Walk, post, token, visitor
from webui.app import LARGEST_FORM, create_app
from webui.guard import passphrase as phrases
from webui.guard.door import Door, Right
from webui.guard.entering import OWN

GIVEN = {
    "cause": PLUG,
    "model": "Tern 13",
    "why": "x",
    "slug": "new-one",
    "text": "x",
    "outcome": "x",
    "q": "x",
}


def test_nearly_every_route_has_something_real_in_its_place(walk: Walk) -> None:
    """Pictures, a changed text and one put away are not there, or the other walks would see failures only."""
    asked = f"?cause={PLUG}&model=Tern+13"
    told = {
        one: walk.client.get(one + asked, base_url=HOME).status_code
        for one in walk.addresses("GET")
    }

    assert len(told) >= 10
    assert sum(status >= 400 for status in told.values()) <= 7, told


def test_every_form_refuses_whoever_was_not_shown_it(app: Flask, walk: Walk) -> None:
    good, others = walk.token(), token(visitor(app))
    forms = walk.addresses("POST")
    before = walk.memory()
    foreign = [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost:8378"},
        {},
        {**HERE, "Sec-Fetch-Site": "cross-site"},
        {**HERE, "Sec-Fetch-Site": "same-site"},
    ]

    assert len(forms) >= 6
    for address in forms:
        for wrong in ({}, {"token": "x.y"}, {"token": others}, {"token": f"{good}0"}):
            assert post(walk.client, address, {**GIVEN, **wrong}).status_code == 403, (
                address,
                wrong,
            )
        for headers in foreign:
            answer = post(walk.client, address, {**GIVEN, "token": good}, headers)
            assert answer.status_code == 403, (address, headers)
    assert walk.memory() == before


def test_no_reading_changes_anything(app: Flask, walk: Walk) -> None:
    before, seen = walk.memory(), set[str]()
    waiting = [
        *walk.addresses("GET"),
        "/?q=no+battery&model=Tern+13",
        f"/job/{walk.closed_job}",
    ]
    while waiting and len(seen) < 150:
        address = waiting.pop(0)
        if address.startswith("/") and address not in seen:
            seen.add(address)
            waiting += [
                leads_to
                for leads_to, _ in Page(walk.client.get(address, base_url=HOME)).links
            ]

    assert len(seen) > 20
    assert walk.memory() == before


# With a door


@pytest.fixture
def door(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Door:
    monkeypatch.setattr(phrases.hashed, "__defaults__", ((16, 1, 1),))
    made = Door(bench.folder, bench.shop.clock)
    made.set_passphrase(Right.WRITE, "four plain words here")
    made.set_passphrase(Right.READ, "only looking at it")
    return made


@pytest.fixture
def guarded(bench: Bench, door: Door) -> Walk:
    return Walk(create_app(bench, door=door), bench)


def signed_in(app: Flask, passphrase: str) -> FlaskClient:
    client = visitor(app)
    answer = post(
        client,
        "/enter",
        {"token": token(client, "/enter"), "passphrase": passphrase, "to": "/library"},
    )
    assert (answer.status_code, answer.headers["Location"]) == (303, "/library")
    return client


def inner(walk: Walk, method: str) -> list[str]:
    return [
        one
        for one in walk.addresses(method)
        if one not in ("/enter", "/leave") and not one.startswith("/static")
    ]


def test_a_stranger_sees_the_sign_in_page_alone(guarded: Walk) -> None:
    for address in inner(guarded, "GET"):
        answer = guarded.client.get(f"{address}?q=no+battery", base_url=HOME)
        assert answer.status_code in (303, 401), address
        assert answer.status_code == 401 or answer.headers["Location"].startswith(
            "/enter?to="
        ), address
        assert "battery" not in answer.text.replace("no+battery", "").replace(
            "no-battery", ""
        ).replace("no%2Bbattery", "")


def test_a_stranger_writes_nothing_and_keeps_what_was_typed(guarded: Walk) -> None:
    before = guarded.memory()
    for address in inner(guarded, "POST"):
        answer = post(
            guarded.client,
            address,
            {**GIVEN, "note": "pin 3 bent", "token": guarded.token()},
        )
        assert answer.status_code == 401, address
        assert "pin 3 bent" in answer.text
    assert guarded.memory() == before


def test_the_reading_passphrase_reads_everything_and_writes_nothing(
    guarded: Walk,
) -> None:
    client = signed_in(guarded.app, "only looking at it")
    before = guarded.memory()

    assert "Reading only" in client.get("/", base_url=HOME).text
    forms = ["/confirm", "/entry/no-battery/edit", "/new", "/arrival", "/past"]
    for address in inner(guarded, "GET"):
        assert client.get(address, base_url=HOME).status_code in (
            (403,) if address in forms else (200, 303, 404)
        ), address
    for address in inner(guarded, "POST"):
        form = {**GIVEN, "token": token(client, "/enter")}
        assert post(client, address, form).status_code == (
            303 if address in OWN else 403
        ), address
    assert guarded.memory() == before


def test_who_may_only_read_is_shown_nothing_that_would_be_refused(
    guarded: Walk,
) -> None:
    client = signed_in(guarded.app, "only looking at it")
    seen: set[str] = set()
    waiting = [
        "/",
        "/?q=no+battery",
        "/?q=zxqv",
        f"/job/{guarded.open_job}",
        f"/job/{guarded.closed_job}",
    ]
    while waiting:
        address = waiting.pop(0)
        if address.startswith("/") and address not in seen:
            seen.add(address)
            page = Page(client.get(address, base_url=HOME))
            waiting += [leads_to for leads_to, _ in page.links]
            sent = {
                form.action
                for form in page.forms
                if form.method == "post" and form.buttons
            }
            assert sent <= {"/leave", *OWN}, address

    assert len(seen) > 12
    assert not [
        one
        for one in seen
        if one.endswith("/edit") or one.startswith(("/confirm", "/new"))
    ]


@pytest.mark.parametrize(
    "address", [f"/confirm?cause={PLUG}", "/entry/no-battery/edit", "/new?q=hum"]
)
def test_a_form_to_write_with_says_at_once_that_this_sign_in_may_only_read(
    guarded: Walk, address: str
) -> None:
    told = {
        passphrase: signed_in(guarded.app, passphrase).get(address, base_url=HOME)
        for passphrase in ("only looking at it", "four plain words here")
    }

    reader, writer = told.values()
    assert (reader.status_code, writer.status_code) == (403, 200)
    assert "This sign-in may only read" in reader.text
    assert "nothing was saved" not in reader.text
    assert "<textarea" not in reader.text
    assert "may only read" not in writer.text


def test_an_entry_to_be_mended_is_told_to_who_may_only_read_instead_of_opening_its_form(
    guarded: Walk,
) -> None:
    (guarded.bench.folder / "entries").mkdir(exist_ok=True)
    (guarded.bench.folder / "entries" / "torn.md").write_text("torn")
    told = {
        passphrase: signed_in(guarded.app, passphrase).get("/entry/torn", base_url=HOME)
        for passphrase in ("only looking at it", "four plain words here")
    }

    reader, writer = told.values()
    assert (reader.status_code, writer.status_code) == (404, 303)
    assert (
        "torn cannot be used as it stands; tell somebody who may write here"
        in reader.text
    )


def test_who_may_only_read_is_told_to_tell_others_and_who_writes_to_write_it_down(
    guarded: Walk,
) -> None:
    told = {}
    for passphrase in ("only looking at it", "four plain words here"):
        client = signed_in(guarded.app, passphrase)
        told[passphrase] = client.get("/?q=zxqv+wvutz", base_url=HOME).text

    reader, writer = told.values()
    assert ("write it down" in reader, "write it down" in writer) == (False, True)
    assert (
        "tell somebody who may write here" in reader,
        "tell somebody who" in writer,
    ) == (True, False)


def test_the_passphrase_for_writing_writes(guarded: Walk, bench: Bench) -> None:
    client = signed_in(guarded.app, "four plain words here")

    assert (
        post(client, "/confirm", {**GIVEN, "token": token(client)}).status_code == 303
    )
    assert len(list(bench.history().closed_jobs())) == 2


# Headers


def answers(walk: Walk) -> Iterator[tuple[str, TestResponse]]:
    """One answer of every route, and of every kind of failure."""
    for address in walk.addresses("GET"):
        yield address, walk.client.get(address, base_url=HOME)
    for address in walk.addresses("POST"):
        yield f"POST {address}", post(walk.client, address, {})
    yield "not there", walk.client.get("/nope", base_url=HOME)
    yield "wrong method", walk.client.open("/library", method="DELETE", base_url=HOME)
    yield "options", walk.client.open("/library", method="OPTIONS", base_url=HOME)
    yield "too large", post(walk.client, "/new", {"text": "x" * (LARGEST_FORM + 1)})
    yield "wrong host", walk.client.get("/", base_url="http://evil.example")


@pytest.mark.parametrize("which", ["walk", "guarded"])
def test_every_answer_carries_the_headers(
    request: pytest.FixtureRequest, which: str
) -> None:
    for name, answer in answers(request.getfixturevalue(which)):
        policy = answer.headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'; "), name
        assert "unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert answer.headers["X-Content-Type-Options"] == "nosniff", name
        assert answer.headers["Referrer-Policy"] == "same-origin", name
        kept = answer.headers["Cache-Control"] != "no-store"
        assert not kept or name.startswith("/static"), name
        if answer.mimetype == "text/html":
            assert strange(answer.text) == [], name
        for cookie in answer.headers.getlist("Set-Cookie"):
            assert all(
                flag in cookie for flag in ("HttpOnly", "SameSite=Strict", "Path=/")
            ), name


def test_an_upper_bound_on_memory_is_kept_for_bodies(walk: Walk) -> None:
    parts = {"token": walk.token(), "cause": PLUG, "model": "Tern 13"} | {
        f"f{n}": "x" for n in range(1001)
    }
    many = walk.client.post(
        "/confirm",
        data=parts,
        content_type="multipart/form-data",
        base_url=HOME,
        headers=HERE,
    )

    assert many.status_code == 413
    assert post(walk.client, "/confirm", {"note": "x" * 1_000_000}).status_code == 413
    assert walk.client.get("/?q=" + "x" * 100_000, base_url=HOME).status_code == 200


# Hosts


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8377",
        "localhost.evil.example",
        "user@localhost",
        "localhost:",
        "localhost:99999",
        "localhost, localhost",
        "127.1",
        "2130706433",
        "0x7f.1",
        "[::1",
        "::1",
        "[::1%25lo]",
        "[::ffff:127.0.0.1]",
        "",
    ],
)
def test_a_foreign_or_crooked_host_is_refused(app: Flask, host: str) -> None:
    answer = app.test_client().get("/", headers={"Host": host})

    assert answer.status_code == 400
    assert "evil" not in answer.text
    assert "Set-Cookie" not in answer.headers


@pytest.mark.parametrize(
    "host",
    [
        "localhost",
        "LOCALHOST:80",
        "localhost.",
        "127.0.0.1:8377",
        "[::1]",
        "[::1]:8377",
    ],
)
def test_loopback_is_answered_by_name_and_both_kinds_of_address(
    app: Flask, host: str
) -> None:
    assert app.test_client().get("/", headers={"Host": host}).status_code == 200


def test_a_form_over_an_address_of_version_6_is_taken(bench: Bench) -> None:
    app = create_app(bench, trusted_hosts=["2001:db8::7"])
    host = "[2001:DB8:0::7]:8377"
    client = app.test_client()
    page = client.get(f"/confirm?cause={PLUG}", headers={"Host": host}).text
    given = {
        "cause": PLUG,
        "model": "Tern 13",
        "token": page.partition('name="token" value="')[2].partition('"')[0],
    }

    answer = client.post(
        "/confirm", data=given, headers={"Host": host, "Origin": f"http://{host}"}
    )

    assert answer.status_code == 303


@pytest.mark.parametrize(
    "address",
    [
        "//evil.example/",
        "/entry//no-battery",
        "/job//x",
        "/library/",
        "/static//bench.css",
    ],
)
def test_no_link_is_built_from_the_host(app: Flask, address: str) -> None:
    answer = app.test_client().get(address, headers={"Host": "localhost:9999"})

    assert "9999" not in answer.text + answer.headers.get("Location", "")
