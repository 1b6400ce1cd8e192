"""Distances between words against published pairs and an independent library, and what a mistyped word is read as."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import combinations
from string import ascii_lowercase

import pytest
from helpers.trade_words import shipped_lexicon
from rapidfuzz.distance import OSA

from kb.language import terms
from kb.language.spelling import guesses, is_plain_word
from kb.language.words import fold, split
from kb.model import Entry

#: Words of the trade that are no near misses of each other, each as frequent as a rather rare word of the library.
TRADE = (
    "battery",
    "charger",
    "hinge",
    "keyboard",
    "screen",
    "mainboard",
    "touchpad",
    "memory",
    "cable",
    "socket",
)
VOCABULARY = dict.fromkeys(TRADE, 25.0)


def test_the_words_for_reading_back_are_far_from_each_other() -> None:
    assert min(OSA.distance(one, other) for one, other in combinations(TRADE, 2)) >= 4


@pytest.mark.parametrize("word", TRADE)
def test_a_word_with_any_one_error_is_read_back(word: str) -> None:
    """Every letter dropped, doubled, added, replaced by any other, and every two neighbours swapped.

    Left out: four letters with another beginning ("able"), which are as likely a word that nobody told us of.
    """
    mistyped = {
        typed for typed in _one_error(word) if len(typed) >= 5 or typed[0] == word[0]
    } - {word}

    assert [
        typed for typed in sorted(mistyped) if _read(typed, VOCABULARY)[0] != word
    ] == []


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


@pytest.mark.slow
def test_among_all_words_of_the_library_most_single_errors_are_read_back(
    library: tuple[Entry, ...],
) -> None:
    """Words of five letters and more, as often as they are used; an error may well make a word nearer to another."""
    vocabulary = _words_of(library)
    long = sorted(word for word in vocabulary if len(word) >= 5)
    dice = random.Random(1)
    drawn = dice.choices(long, [vocabulary[word] for word in long], k=300)
    typed = [
        (word, dice.choice(sorted(set(_one_error(word)) - vocabulary.keys())))
        for word in drawn
    ]

    read = [(word, _read(mistyped, vocabulary)) for word, mistyped in typed]

    assert sum(word == found[0] for word, found in read) >= 0.90 * len(read)
    assert sum(word in found[:3] for word, found in read) >= 0.97 * len(read)


def _words_of(library: tuple[Entry, ...]) -> dict[str, float]:
    lexicon = shipped_lexicon()
    texts = (text for entry in library for text, _ in terms.texts_of(entry))
    counts = Counter(
        word
        for text in texts
        for clause in split(fold(text), lexicon)
        for word in clause
    )
    return {
        word: float(count)
        for word, count in sorted(counts.items())
        if is_plain_word(word)
    }


def test_all_forms_of_a_word_cut_short_are_one_reading_and_so_likelier_than_any_other_word() -> (
    None
):
    known = {"change": 90.0, "changes": 100.0, "changed": 80.0, "channel": 120.0}

    assert [(one.word, one.share > 0.5) for one in guesses("chan", known)[:2]] == [
        ("changes", True),
        ("channel", False),
    ]


def test_run_together_words_are_parted_where_one_of_them_tells_something() -> None:
    known = {
        "black": 400.0,
        "screen": 600.0,
        "is": 900.0,
        "the": 900.0,
        "others": 9000.0,
    }

    assert _read("blackscreen", known)[0] == "black screen"
    assert (
        guesses("screenisblack", known, noise={"is", "the"})[0].word
        == "screen is black"
    )
    assert guesses("isthe", known, noise={"is", "the"})[0].word == ""
    assert _read("pipesbag", {"pipes": 2.0, "bag": 20.0, "others": 150_000.0})[0] == ""
