"""Words that a machine heard for others of the same sound, put back."""

from __future__ import annotations

from collections import Counter

import pytest
from helpers.trade_words import headwords, shipped_lexicon

from kb.bench.front import Bench
from kb.language.dictated import MOST_WORDS, put_back
from kb.language.words import Lexicon, fold
from kb.model import Entry

#: So many of all wordings may sound like dictation though nobody dictated them.
BY_CHANCE = 20


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return shipped_lexicon()


@pytest.mark.parametrize(
    ("heard", "said"),
    [
        pytest.param(
            "the key bored is dead",
            "the keyboard is dead",
            id="two words, one of which is odd",
        ),
        pytest.param(
            "my bat or he is flat", "my battery is flat", id="three words, listed"
        ),
        pytest.param("why fie drops", "wifi drops", id="listed"),
        pytest.param("the you ess bee sea port", "the usb c port", id="four words"),
        pytest.param(
            "it does knot charge",
            "it does not charge",
            id="one word that no complaint needs",
        ),
        pytest.param("key broken", "key broken", id="nothing to put back"),
        pytest.param("hard disk", "hard disk", id="a phrase of the trade stays"),
    ],
)
def test_what_was_heard_for_another_word_is_put_back(
    lexicon: Lexicon, heard: str, said: str
) -> None:
    assert put_back(heard, lexicon, ())[0] == said


def test_words_in_quotes_stay_as_they_were_heard(lexicon: Lexicon) -> None:
    assert put_back("the key bored", lexicon, ["key", "bored"]) == ("the key bored", [])


def test_what_was_put_back_is_said(stock_bench: Bench) -> None:
    assert ("key bored", "keyboard") in stock_bench.asking.search(
        "my key bored is wet"
    ).corrections


def test_no_phrase_is_listed_for_two_or_longer_than_is_looked_for() -> None:
    table = headwords("heard")
    listed = Counter(fold(written) for ways in table.values() for written in ways)

    assert [written for written, times in listed.items() if times > 1] == []
    assert [written for written in listed if len(written.split()) > MOST_WORDS] == []


@pytest.mark.slow
def test_hardly_a_wording_of_the_library_is_taken_for_dictation(
    library: tuple[Entry, ...], lexicon: Lexicon
) -> None:
    wordings = [text for entry in library for text in entry.wordings]
    taken = [text for text in wordings if put_back(fold(text), lexicon, ())[1]]

    assert len(taken) <= BY_CHANCE, taken
