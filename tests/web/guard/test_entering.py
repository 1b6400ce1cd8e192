"""Entering and leaving: where one wanted, and nowhere else."""

from __future__ import annotations

from flask import Flask
from helpers.doors import GOOD
from helpers.knocking import knock
from security.walking import HOME, post, token, visitor

from kb.bench.front import Bench
from webui.app import create_app
from webui.guard.door import Door


def test_signing_in_makes_the_browser_known_and_ends_the_session_before(
    guarded: Flask, door: Door
) -> None:
    client = visitor(guarded)
    fields = {"token": token(client, "/enter"), "passphrase": GOOD}
    post(client, "/enter", fields)
    first, browser = (
        client.get_cookie("benchlore-session"),
        client.get_cookie("benchlore-known"),
    )
    assert first
    assert browser
    assert door.knows(browser.value)

    post(client, "/enter", {**fields, "token": token(client, "/enter")})

    assert door.right_of(first.value) is None
    again = client.get_cookie("benchlore-known")
    assert again
    assert again.value == browser.value


def test_signing_in_leads_where_one_wanted_and_nowhere_else(guarded: Flask) -> None:
    for to, leads in (
        ("/job/1?q=x", "/job/1?q=x"),
        ("//evil.example", "/"),
        ("/\\evil.example", "/"),
        ("x", "/"),
    ):
        assert knock(guarded, GOOD, to).headers["Location"] == leads


def test_a_wrong_passphrase_is_told_and_never_shown(guarded: Flask) -> None:
    answer = knock(guarded, "wrong wrong wrong")

    assert answer.status_code == 401
    assert "not the passphrase" in answer.text
    assert "wrong wrong wrong" not in answer.text


def test_too_many_wrong_ones_are_told_how_long_to_wait(guarded: Flask) -> None:
    told = [knock(guarded, "wrong wrong wrong") for _ in range(7)]

    assert [answer.status_code for answer in told] == [401] * 6 + [429]
    assert told[-1].headers["Retry-After"] == "1"


def test_only_a_visitor_over_the_network_is_warned_that_others_could_read_along(
    bench: Bench, door: Door
) -> None:
    client = create_app(
        bench, door=door, trusted_hosts=("localhost", "bench.example")
    ).test_client()

    told = {
        base: "not encrypted" in client.get("/enter", base_url=base).text
        for base in (
            "http://localhost",
            "http://bench.example",
            "https://bench.example",
        )
    }

    assert told == {
        "http://localhost": False,
        "http://bench.example": True,
        "https://bench.example": False,
    }


def test_a_stale_form_never_offers_a_passphrase_again(guarded: Flask) -> None:
    answer = post(visitor(guarded), "/enter", {"token": "x.y", "passphrase": GOOD})

    assert answer.status_code == 403
    assert GOOD not in answer.text


def test_signing_out_ends_the_session_for_good(guarded: Flask) -> None:
    client = visitor(guarded)
    post(client, "/enter", {"token": token(client, "/enter"), "passphrase": GOOD})
    cookie = client.get_cookie("benchlore-session")
    assert cookie
    assert client.get("/library", base_url=HOME).status_code == 200

    assert (
        post(client, "/leave", {"token": token(client, "/")}).headers["Location"]
        == "/enter"
    )

    client.set_cookie("benchlore-session", cookie.value)
    assert client.get("/library", base_url=HOME).status_code == 303


def test_the_session_cookie_is_out_of_reach_and_over_tls_bound_to_this_host(
    guarded: Flask,
) -> None:
    plain = next(
        one
        for one in knock(guarded, GOOD).headers.getlist("Set-Cookie")
        if "session" in one
    )
    assert all(
        flag in plain
        for flag in ("HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=2592000")
    )
    assert "Secure" not in plain

    client, home = guarded.test_client(), "https://localhost"
    page = client.get("/enter", base_url=home).text
    given = {
        "passphrase": GOOD,
        "token": page.partition('name="token" value="')[2].partition('"')[0],
    }
    answer = client.post("/enter", base_url=home, data=given, headers={"Origin": home})
    coded = next(
        one for one in answer.headers.getlist("Set-Cookie") if "session" in one
    )
    assert coded.startswith("__Host-")
    assert "Secure" in coded


def test_a_door_that_is_damaged_lets_nobody_in_and_says_what_to_do(
    guarded: Flask, door: Door
) -> None:
    door.path.write_bytes(b"not a database, but long enough to look at" * 30)
    client = visitor(guarded)
    client.set_cookie("benchlore-session", "x")

    answer = client.get("/library", base_url=HOME)

    assert answer.status_code == 503
    assert "benchlore passphrase" in answer.text
