"""Typing errors and what they cost, held against the weighted distance of Levenshtein."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from rapidfuzz.distance import OSA, Levenshtein

from kb.language.mistyping import (
    DROPPED_LETTER,
    EASY_ERROR,
    FIRST_LETTER,
    SWAPPED_LETTERS,
    typing_errors,
)

WORDS = st.text("abcdefghijklmnopqrstuvwxyz", max_size=12)
#: Letters that neither lie side by side on a keyboard nor sound alike, in words that double none of them.
FAR_APART = st.text("qtlv", max_size=9).filter(
    lambda word: all(a != b for a, b in pairwise(word))
)


@given(FAR_APART, FAR_APART)
def test_without_swaps_and_likenesses_our_count_is_the_weighted_distance_of_levenshtein(
    typed: str, word: str
) -> None:
    """An independent library with our weights: one tenth is its unit."""
    assume(not any(b + a in word for a, b in pairwise(typed)))
    first = 0.0 if typed[:1] == word[:1] else FIRST_LETTER
    dropped = round(10 * DROPPED_LETTER)

    counted = Levenshtein.distance(word, typed, weights=(10, dropped, 10))

    assert typing_errors(typed, word) - first == pytest.approx(counted / 10)


@given(WORDS, WORDS)
def test_there_are_no_errors_only_between_equal_words(typed: str, word: str) -> None:
    assert typing_errors(word, word) == 0.0
    assert (typing_errors(typed, word) == 0.0) == (typed == word)


@given(WORDS, WORDS)
def test_errors_lie_between_all_easy_and_all_full_ones(typed: str, word: str) -> None:
    full = OSA.distance(typed, word)

    assert (
        EASY_ERROR * full - 1e-9
        <= typing_errors(typed, word)
        <= full + FIRST_LETTER + 1e-9
    )


@given(FAR_APART, FAR_APART)
def test_letters_left_out_cost_less_than_letters_added(typed: str, word: str) -> None:
    """In words of one length as many are left out one way as the other. (A doubled letter costs the same both ways.)"""
    there, back = typing_errors(typed, word), typing_errors(word, typed)

    if len(typed) == len(word):
        assert there == pytest.approx(back)
    elif len(typed) < len(word):
        assert there <= back + 1e-9


@given(WORDS, WORDS)
def test_errors_differ_by_direction_no_more_than_a_letter_left_out_from_one_added(
    typed: str, word: str
) -> None:
    assert (
        typing_errors(typed, word) >= DROPPED_LETTER * typing_errors(word, typed) - 1e-9
    )


def test_easy_errors_cost_less_than_others() -> None:
    """A key next door, a doubled letter and a like sound against a far key; and a wrong first letter costs more."""
    easy = [typing_errors(typed, "screen") for typed in ("scteen", "screeen", "skreen")]

    assert easy == pytest.approx([EASY_ERROR] * 3)
    assert typing_errors("sceen", "screen") == pytest.approx(DROPPED_LETTER)
    assert typing_errors("srceen", "screen") == pytest.approx(SWAPPED_LETTERS)
    assert typing_errors("scrpeen", "screen") == pytest.approx(1.0)
    assert typing_errors("scpeen", "screen") == pytest.approx(1.0)
    assert typing_errors("pcreen", "screen") == pytest.approx(1.0 + FIRST_LETTER)
