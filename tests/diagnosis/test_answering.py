"""Answers: shares that sum to one, and the same answer to the same question."""

from __future__ import annotations

import pytest

from kb.bench.front import Bench


def test_probabilities_of_entries_and_something_else_sum_to_one(bench: Bench) -> None:
    answer = bench.asking.search("battery", limit=50)

    assert sum(entry.probability for entry in answer.entries) + answer.something_else == pytest.approx(1.0)


def test_the_causes_of_an_entry_sum_to_the_entry(bench: Bench) -> None:
    for entry in bench.asking.search("batt missing", limit=50).entries:
        assert sum(cause.probability for cause in entry.causes) == pytest.approx(entry.probability)


def test_the_same_question_gets_the_same_answer(bench: Bench) -> None:
    one, other = bench.asking.search("no picture"), bench.asking.search("no picture")

    assert one.entries == other.entries


TWO = "the fan is grinding loudly, and the f key does not type any more"


def test_a_ranking_is_the_order_of_the_answer(stock_bench: Bench) -> None:
    for words in (TWO, "charges, but will not start", "xqzv wwkj"):
        answer, ranking = stock_bench.asking.search(words), stock_bench.asking.rank(words)

        assert [slug for slug, _, _ in ranking.entries] == [entry.entry for entry in answer.entries]
        assert [share for _, share, _ in ranking.entries] == [entry.probability for entry in answer.entries]
        assert (ranking.fits, ranking.two) == (answer.fits, answer.two)
