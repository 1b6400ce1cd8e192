"""Cookies that scripts and other sites cannot reach."""

from __future__ import annotations

from flask import Flask
from helpers.visiting import HOME


def test_the_cookies_stay_away_from_scripts_and_other_sites(app: Flask) -> None:
    answer = app.test_client().get("/?q=no+battery&model=Tern+13", base_url=HOME)

    cookies = answer.headers.getlist("Set-Cookie")
    assert len(cookies) == 2
    assert all(
        "HttpOnly" in one and "SameSite=Strict" in one and "Path=/" in one
        for one in cookies
    )


def test_a_visitor_over_tls_gets_secure_cookies(app: Flask) -> None:
    answer = app.test_client().get("/", base_url="https://localhost")

    assert all("Secure" in one for one in answer.headers.getlist("Set-Cookie"))
