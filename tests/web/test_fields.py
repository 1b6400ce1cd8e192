"""Fields of a request: within their limits, and an address that carries the complaint on."""

from __future__ import annotations

from urllib.parse import parse_qs, urlsplit

import pytest
from flask import Flask

from webui import fields
from webui.fields import TypedComplaint


def test_an_address_carries_what_was_typed_and_leaves_out_what_was_not() -> None:
    typed = TypedComplaint("won't start & hums", "Tern 13")

    told = parse_qs(urlsplit(typed.address("/confirm", cause="a/b")).query)

    assert told == {"q": ["won't start & hums"], "model": ["Tern 13"], "cause": ["a/b"]}
    assert TypedComplaint().address("/") == "/"
    assert typed.on("Skua 14").saying("dead") == TypedComplaint("dead", "Skua 14")


def test_only_an_empty_first_page_takes_the_model_that_the_browser_had_last(
    app: Flask,
) -> None:
    cookie = {"Cookie": 'model="Tern 13"'}
    with app.test_request_context("/", headers=cookie):
        assert fields.complaint().model == "Tern 13"
    with app.test_request_context("/?q=dead", headers=cookie):
        assert fields.complaint() == TypedComplaint("dead", "")


def test_what_is_longer_than_its_limit_is_cut(app: Flask) -> None:
    with app.test_request_context("/?q=" + "x" * 900 + "&unit=" + "y" * 900):
        typed = fields.complaint()

    assert (len(typed.words), len(typed.unit)) == (
        fields.WORDS_LIMIT,
        fields.NAME_LIMIT,
    )


def test_a_comma_may_stand_for_the_point_and_what_is_no_number_is_refused(
    app: Flask,
) -> None:
    def number(given: str) -> float | None:
        with app.test_request_context("/", method="POST", data={"minutes": given}):
            return fields.number("minutes")

    assert (number("7,5"), number(" 12 "), number("")) == (7.5, 12.0, None)
    with pytest.raises(ValueError, match="could not convert"):
        number("ten")
