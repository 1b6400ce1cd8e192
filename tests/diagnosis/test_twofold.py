"""Two faults told at once, and what a complaint says against an entry."""

from __future__ import annotations

import pytest

from kb.bench.front import Bench

TWO = "the fan is grinding loudly, and the f key does not type any more"


def test_a_complaint_of_two_faults_names_both_first(stock_bench: Bench) -> None:
    answer = stock_bench.asking.search(TWO)

    assert "fan-noisy" in answer.two
    assert [entry.entry for entry in answer.entries[:2]] == list(answer.two)
    assert answer.entries[1].probability > 0.1


@pytest.mark.parametrize(
    "words",
    [
        "the fan is grinding loudly",
        "charges, but will not start",
        "wifi drops every few minutes, comes back by itself, drops again",
        "no picture on the built-in screen, the outside screen shows everything",
    ],
)
def test_a_complaint_of_one_fault_is_not_parted(stock_bench: Bench, words: str) -> None:
    assert stock_bench.asking.search(words).two == ()


@pytest.mark.slow
def test_hardly_a_complaint_of_one_fault_is_taken_for_two(stock_bench: Bench) -> None:
    from helpers.unseen import heard

    one_fault = [
        one.words for one in heard("voices-a") if one.group not in ("two", "contrast")
    ][::4]
    parted = [words for words in one_fault if stock_bench.asking.rank(words).two]

    assert len(parted) <= 0.06 * len(one_fault), parted


def test_both_of_two_faults_stand_among_the_first_two(stock_bench: Bench) -> None:
    from helpers.unseen import heard

    two = [one for one in heard("voices-a") if one.group == "two"]
    both = [
        one
        for one in two
        if one.sheets
        <= {slug for slug, _, _ in stock_bench.asking.rank(one.words).entries[:2]}
    ]

    assert len(two) == 40
    assert len(both) >= 36
