"""A tongue: numbers, days, plurals and sentences as its people write them."""

from __future__ import annotations

import pytest

from kb.base.worded import listed, worded
from webui import filters
from webui.tongue import ENGLISH_TONGUE, speak, tongue_of


@pytest.fixture
def german(monkeypatch: pytest.MonkeyPatch):  # type: ignore[no-untyped-def]
    """While a test runs, whatever it calls speaks German."""
    speak(tongue_of("de"))
    yield
    speak(ENGLISH_TONGUE)


def test_numbers_days_and_plurals_are_those_of_the_language(german: None) -> None:
    tongue = tongue_of("de")

    assert filters.minutes(7.5) == "7,5\u00a0min"
    assert filters.rate(0.0199) == "2,0\u00a0%"
    assert filters.figure(1234.5, ".1f") == "1234,5"
    assert filters.day("2026-06-30T12:00:00Z") == "30.06.2026"
    assert filters.moment("2026-06-30T12:00:00Z").startswith("30.06.2026 ")
    assert [tongue.say("floor.machines", n=n) for n in (0, 1, 2)] == [
        "0 Geräte",
        "1 Gerät",
        "2 Geräte",
    ]
    assert tongue.say("floor.machines", n=12345) == "12.345 Geräte"


def test_a_value_is_escaped_in_every_language() -> None:
    for code in ("en", "de"):
        assert "&lt;b&gt;" in tongue_of(code).say("model.yes", near="<b>")


def test_a_sentence_of_the_core_without_a_translation_is_said_in_english() -> None:
    new = worded("quite new: {minutes:g} min", minutes=1.5)

    assert tongue_of("de").tell(new) == "quite new: 1,5 min"
    assert ENGLISH_TONGUE.tell(new) == new == "quite new: 1.5 min"


def test_sentences_within_a_sentence_are_said_in_its_language() -> None:
    inner = worded("get the part")
    outer = worded("{before} ({after})", before=listed([inner, inner]), after=inner)

    assert str(outer) == "get the part; get the part (get the part)"
    assert tongue_of("de").tell(outer) == "Teil besorgen; Teil besorgen (Teil besorgen)"
