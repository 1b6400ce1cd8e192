"""Emoji said in words, by hand or by name."""

from __future__ import annotations

import pytest
from helpers.trade_words import headwords, shipped_lexicon
from hypothesis import given
from hypothesis import strategies as st

from kb.bench.front import Bench
from kb.language.emoji import AGAIN, in_words, undressed
from kb.language.words import tokens

BY_HAND = shipped_lexicon().emoji


@given(st.text(max_size=80))
def test_no_text_whatever_stops_the_reader_of_emoji_and_none_is_left(text: str) -> None:
    said = in_words(text, BY_HAND)

    assert in_words(said, BY_HAND) == said


@given(st.text(st.characters(max_codepoint=0x2000), max_size=80))
def test_a_text_without_emoji_stays_as_it_is(text: str) -> None:
    assert in_words(text, BY_HAND) == text


def test_an_emoji_in_any_dress_says_the_same() -> None:
    assert in_words("🖥️", BY_HAND) == in_words("🖥", BY_HAND)
    assert in_words("👍🏽", BY_HAND) == in_words("👍", BY_HAND)
    assert in_words("1️⃣", BY_HAND) == "1"
    assert in_words("char\u200bger", BY_HAND) == "charger", (
        "a blank of no width, as chats put in"
    )


def test_one_that_nobody_listed_is_read_by_its_name_and_a_mood_says_nothing() -> None:
    assert in_words("🟢", {}).strip() == "green"
    assert in_words("🧨", {}).strip() == "firecracker"
    assert in_words("😭🤬", BY_HAND).strip() == ""


def test_a_row_says_each_once_and_that_it_comes_back() -> None:
    assert in_words("😱🔥🔥🔥", BY_HAND).split() == ["hot"]
    assert in_words("🔛 📴 🔛 📴", BY_HAND).strip() == f"turns on turns off {AGAIN}"


def test_no_emoji_is_listed_twice_in_another_dress() -> None:
    listed = list(headwords("emoji"))

    assert len({undressed(shown) for shown in listed}) == len(listed)


@pytest.mark.parametrize(
    ("said", "entry"),
    [
        ("🔋 🎈", "battery-swollen"),
        ("☕ on the ⌨️", "liquid-spill"),
        ("no 🎤, others cant 👂 me", "microphone-dead"),
    ],
)
def test_a_complaint_in_emoji_finds_its_sheet(
    stock_bench: Bench, said: str, entry: str
) -> None:
    answered = stock_bench.asking.search(said, limit=3)

    assert answered.entries[0].entry == entry
    assert answered.fits


def test_every_emoji_that_says_something_says_what_the_lexicon_can_read() -> None:
    lexicon = shipped_lexicon()
    unread = {
        shown for shown, said in BY_HAND.items() if said and not tokens(said, lexicon)
    }

    assert unread == set()
