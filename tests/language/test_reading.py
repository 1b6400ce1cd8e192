"""How typed text is read: what the fewest words mean, and what is put together for them."""

from __future__ import annotations

import random

import pytest

from kb.bench.front import Bench
from kb.demo.complaints import mistyped
from kb.diagnosis.answer import Answer
from kb.language.reading import Proofreader, read


def _answer(bench: Bench, words: str) -> Answer:
    return bench.asking.search(words, limit=3)


@pytest.mark.parametrize(
    "said", ["dead", "Dead!", "laptop dead", "its totally dead", "the machine is dead"]
)
def test_a_word_that_says_it_all_is_read_with_what_it_means_with_or_without_the_machine(
    stock_bench: Bench, said: str
) -> None:
    answered = _answer(stock_bench, said)

    assert answered.entries[0].entry == "no-sign-of-life"
    assert answered.fits


def test_what_few_words_were_taken_to_mean_is_said_and_quotes_keep_them_as_typed(
    stock_bench: Bench,
) -> None:
    said = dict(_answer(stock_bench, "charger bad").corrections)

    assert "does not accept the charger" in said["charger bad"]
    assert _answer(stock_bench, '"charger bad"').corrections == ()


def test_the_same_words_in_a_longer_complaint_mean_no_more_than_they_say(
    stock_bench: Bench,
) -> None:
    answered = _answer(stock_bench, "charger bad smell")

    assert answered.corrections == ()


@pytest.mark.parametrize(
    "said", ["fridge door squeaks", "pasta too soft", "the ballet was long"]
)
def test_a_thing_of_another_subject_is_not_taken_for_a_slip_of_a_word_of_the_trade(
    stock_bench: Bench, said: str
) -> None:
    """Not a bridge, paste or a pallet."""
    answered = _answer(stock_bench, said)

    assert answered.corrections == ()
    assert not answered.fits


def test_a_complaint_is_corrected_among_many_as_it_is_read_alone(
    stock_bench: Bench,
) -> None:
    dice = random.Random(7)
    said = [
        wording for entry in stock_bench.entries.served() for wording in entry.wordings
    ][::300]
    said += [mistyped(words, dice) for words in said]
    said += [
        "die lampe geht nicht",
        'its "chrg" led',
        "bat tery gon",
        "5beeps, key bored ded",
        "dead",
        "",
    ]

    with stock_bench.shop.files.reading() as (index, lexicon):
        proofreader = Proofreader(lexicon, index.words.written())
        corrected = [proofreader.corrected(words) for words in said * 2]
        alone = [
            read(words, lexicon, index.words.written()).corrected for words in said
        ]

    assert corrected == alone * 2
    assert sum(one != two.casefold() for one, two in zip(alone, said, strict=True)) > 5
