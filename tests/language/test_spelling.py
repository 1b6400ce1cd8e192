"""Distances between words against published pairs and an independent library, and what a mistyped word is read as."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import combinations, pairwise
from string import ascii_lowercase

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from rapidfuzz.distance import OSA, Levenshtein

from kb.language import terms
from kb.language.mistyping import DROPPED_LETTER, EASY_ERROR, FIRST_LETTER, SWAPPED_LETTERS, typing_errors
from kb.language.spelling import guesses, is_plain_word
from kb.language.words import fold, read_lexicon, split, stock_words
from kb.model import Entry

WORDS = st.text("abcdefghijklmnopqrstuvwxyz", max_size=12)
#: Letters that neither lie side by side on a keyboard nor sound alike, in words that double none of them.
FAR_APART = st.text("qtlv", max_size=9).filter(lambda word: all(a != b for a, b in pairwise(word)))

#: Words of the trade that are no near misses of each other, each as frequent as a rather rare word of the library.
TRADE = ("battery", "charger", "hinge", "keyboard", "screen", "mainboard", "touchpad", "memory", "cable", "socket")
VOCABULARY = dict.fromkeys(TRADE, 25.0)


@given(FAR_APART, FAR_APART)
def test_without_swaps_and_likenesses_our_count_is_the_weighted_distance_of_levenshtein(typed: str, word: str) -> None:
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

    assert EASY_ERROR * full - 1e-9 <= typing_errors(typed, word) <= full + FIRST_LETTER + 1e-9


@given(FAR_APART, FAR_APART)
def test_letters_left_out_cost_less_than_letters_added(typed: str, word: str) -> None:
    """In words of one length as many are left out one way as the other. (A doubled letter costs the same both ways.)"""
    there, back = typing_errors(typed, word), typing_errors(word, typed)

    if len(typed) == len(word):
        assert there == pytest.approx(back)
    elif len(typed) < len(word):
        assert there <= back + 1e-9


@given(WORDS, WORDS)
def test_errors_differ_by_direction_no_more_than_a_letter_left_out_from_one_added(typed: str, word: str) -> None:
    assert typing_errors(typed, word) >= DROPPED_LETTER * typing_errors(word, typed) - 1e-9


def test_easy_errors_cost_less_than_others() -> None:
    """A key next door, a doubled letter and a like sound against a far key; and a wrong first letter costs more."""
    easy = [typing_errors(typed, "screen") for typed in ("scteen", "screeen", "skreen")]

    assert easy == pytest.approx([EASY_ERROR] * 3)
    assert typing_errors("sceen", "screen") == pytest.approx(DROPPED_LETTER)
    assert typing_errors("srceen", "screen") == pytest.approx(SWAPPED_LETTERS)
    assert typing_errors("scrpeen", "screen") == pytest.approx(1.0)
    assert typing_errors("scpeen", "screen") == pytest.approx(1.0)
    assert typing_errors("pcreen", "screen") == pytest.approx(1.0 + FIRST_LETTER)


def test_the_words_for_reading_back_are_far_from_each_other() -> None:
    assert min(OSA.distance(one, other) for one, other in combinations(TRADE, 2)) >= 4


@pytest.mark.parametrize("word", TRADE)
def test_a_word_with_any_one_error_is_read_back(word: str) -> None:
    """Every letter dropped, doubled, added, replaced by any other, and every two neighbours swapped.

    Left out: four letters with another beginning ("able"), which are as likely a word that nobody told us of.
    """
    mistyped = {typed for typed in _one_error(word) if len(typed) >= 5 or typed[0] == word[0]} - {word}

    assert [typed for typed in sorted(mistyped) if _read(typed, VOCABULARY)[0] != word] == []


def _one_error(word: str) -> Iterator[str]:
    for i in range(len(word) + 1):
        before, after = word[:i], word[i:]
        yield from (before + letter + after for letter in ascii_lowercase)
        if after:
            yield before + after[1:]
            yield from (before + letter + after[1:] for letter in ascii_lowercase)
        if len(after) > 1:
            yield before + after[1] + after[0] + after[2:]


def _read(typed: str, vocabulary: Mapping[str, float]) -> list[str]:
    return [reading.word for reading in guesses(typed, vocabulary)]


def test_among_all_words_of_the_library_most_single_errors_are_read_back(library: tuple[Entry, ...]) -> None:
    """Words of five letters and more, as often as they are used; an error may well make a word nearer to another."""
    vocabulary = _words_of(library)
    long = sorted(word for word in vocabulary if len(word) >= 5)
    dice = random.Random(1)
    drawn = dice.choices(long, [vocabulary[word] for word in long], k=300)
    typed = [(word, dice.choice(sorted(set(_one_error(word)) - vocabulary.keys()))) for word in drawn]

    read = [(word, _read(mistyped, vocabulary)) for word, mistyped in typed]

    assert sum(word == found[0] for word, found in read) >= 0.90 * len(read)
    assert sum(word in found[:3] for word, found in read) >= 0.97 * len(read)


def _words_of(library: tuple[Entry, ...]) -> dict[str, float]:
    lexicon = read_lexicon(stock_words())
    texts = (text for entry in library for text, _ in terms.texts_of(entry))
    counts = Counter(word for text in texts for clause in split(fold(text), lexicon) for word in clause)
    return {word: float(count) for word, count in sorted(counts.items()) if is_plain_word(word)}


def test_run_together_words_are_parted_where_one_of_them_tells_something() -> None:
    known = {"black": 400.0, "screen": 600.0, "is": 900.0, "the": 900.0, "others": 9000.0}

    assert _read("blackscreen", known)[0] == "black screen"
    assert guesses("screenisblack", known, noise={"is", "the"})[0].word == "screen is black"
    assert guesses("isthe", known, noise={"is", "the"})[0].word == ""
    assert _read("pipesbag", {"pipes": 2.0, "bag": 20.0, "others": 150_000.0})[0] == ""
