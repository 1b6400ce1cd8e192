"""How typed text is read: what the fewest words mean, and what is put together for them."""

from __future__ import annotations

import pytest

from kb.bench.front import Bench
from kb.diagnosis.answer import Answer


def _answer(bench: Bench, words: str) -> Answer:
    return bench.asking.search(words, limit=3)


@pytest.mark.parametrize("said", ["dead", "Dead!", "laptop dead", "its totally dead", "the machine is dead"])
def test_a_word_that_says_it_all_is_read_with_what_it_means_with_or_without_the_machine(
    stock_bench: Bench, said: str
) -> None:
    answered = _answer(stock_bench, said)

    assert answered.entries[0].entry == "no-sign-of-life"
    assert answered.fits


def test_what_few_words_were_taken_to_mean_is_said_and_quotes_keep_them_as_typed(stock_bench: Bench) -> None:
    said = dict(_answer(stock_bench, "charger bad").corrections)

    assert "does not accept the charger" in said["charger bad"]
    assert _answer(stock_bench, '"charger bad"').corrections == ()


def test_the_same_words_in_a_longer_complaint_mean_no_more_than_they_say(stock_bench: Bench) -> None:
    answered = _answer(stock_bench, "charger bad smell")

    assert answered.corrections == ()


@pytest.mark.parametrize("said", ["fridge door squeaks", "pasta too soft", "the ballet was long"])
def test_a_thing_of_another_subject_is_not_taken_for_a_slip_of_a_word_of_the_trade(
    stock_bench: Bench, said: str
) -> None:
    """Not a bridge, paste or a pallet."""
    answered = _answer(stock_bench, said)

    assert answered.corrections == ()
    assert not answered.fits
