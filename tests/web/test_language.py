"""The pages in other languages: who chooses, what is said how, and what stays English and says so."""

from __future__ import annotations

import re

import pytest
from flask import Flask
from helpers.visiting import HOME, Visitor

from kb.base.worded import worded
from kb.bench.front import Bench
from webui import filters
from webui.tongue import ENGLISH_TONGUE, speak, tongue_of


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch):  # type: ignore[no-untyped-def]
    """While a test runs, whatever it calls speaks German."""
    speak(tongue_of("de"))
    yield
    speak(ENGLISH_TONGUE)


def page(app: Flask, address: str = "/keys", wants: str = "", kept: str = "") -> str:
    """A page as it is sent to a browser that asks for a language, or has one kept."""
    client = app.test_client()
    if kept:
        client.set_cookie("language", kept, domain="localhost")
    return client.get(
        address, base_url=HOME, headers={"Accept-Language": wants} if wants else {}
    ).text


def language(html: str) -> str:
    found = re.search('<html lang="([^"]*)"', html)
    assert found
    return found[1]


def test_the_language_is_that_of_the_browser_where_nobody_chose_another(
    app: Flask,
) -> None:
    assert language(page(app)) == "en"
    assert language(page(app, wants="de-AT,de;q=0.9,en;q=0.5")) == "de"
    assert language(page(app, wants="fr-FR,fr;q=0.9,en;q=0.5,de;q=0.3")) == "en"
    assert language(page(app, wants="tlh")) == "en"
    assert language(page(app, wants=";;,q=x")) == "en"


def test_what_the_shop_has_set_comes_before_the_browser_and_a_choice_before_both(
    app: Flask, bench: Bench
) -> None:
    bench.shop.kept_settings.set_language("de")

    assert language(page(app)) == "de"
    assert language(page(app, wants="en")) == "de"
    assert language(page(app, kept="en")) == "en"
    assert language(page(app, kept="xx")) == "en", (
        "a language that there is no catalogue of"
    )
    bench.shop.kept_settings.set_language("")
    assert language(page(app, wants="en")) == "en"


def test_the_choice_is_made_on_the_tools_page_for_one_browser_or_for_all(
    app: Flask, bench: Bench
) -> None:
    one = Visitor(app)
    one.go("/tools")
    one.press("In this browser", language="de")

    assert language(one.page.html) == "de"
    assert '<option value="de" lang="de" selected>Deutsch</option>' in one.page.html
    assert language(Visitor(app).page.html) == "en"

    one.press("In der ganzen Werkstatt", language="de")
    assert language(Visitor(app).page.html) == "de"
    assert bench.shop.settings.language == "de"
    one.press("In der ganzen Werkstatt", language="")
    assert language(Visitor(app).page.html) == "en"


def test_a_code_that_is_no_language_is_refused_in_words(
    app: Flask, bench: Bench
) -> None:
    one = Visitor(app)
    one.go("/tools")
    refused = one.press("In the whole shop", language="de/../..")

    assert refused.status == 400
    assert "is no language" in refused.text
    assert bench.shop.settings.language == ""


def test_an_answer_names_its_language_and_that_it_depends_on_the_asker(
    app: Flask,
) -> None:
    told = app.test_client().get(
        "/keys", base_url=HOME, headers={"Accept-Language": "de"}
    )

    assert told.headers["Content-Language"] == "de"
    assert {"Accept-Language", "Cookie"} <= set(told.vary)


def test_text_of_a_sheet_is_marked_as_english_on_a_page_in_another_language(
    german: None,
) -> None:
    assert filters.line("Feel *it*") == "<span lang='en'>Feel <em>it</em></span>"
    assert filters.line(worded("get the part")) == "Teil besorgen"
