"""Coins of unlike chances counted, held against the sums of scipy."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kb.machines.pile import matched
from kb.machines.pile.coins import count_of

coins = st.lists(st.floats(0.0, 1.0), max_size=12)


def test_needs_and_pieces_meet_less_often_than_their_means_say() -> None:
    assert matched([0.6, 0.3, 0.25], [0.95, 0.8]) == pytest.approx(1.0215, abs=1e-9)
    assert matched(iter([0.6, 0.3, 0.25]), iter([0.95, 0.8])) < min(1.15, 1.75)
    assert matched([], [0.5]) == matched([0.5], []) == 0.0


@given(coins, coins)
def test_needs_met_are_those_of_scipys_sums_of_coins(
    needs: list[float], gives: list[float]
) -> None:
    at_least = [
        [stats.poisson_binom.sf(j - 1, list(chances)) for j in range(1, 13)]
        if chances
        else [0.0] * 12
        for chances in (needs, gives)
    ]
    theirs = math.fsum(n * s for n, s in zip(*at_least, strict=True))

    assert matched(needs, gives) == pytest.approx(theirs, abs=1e-9)


@given(coins, st.integers(0, 4))
def test_counts_cut_short_hold_all_the_rest_in_their_last_figure(
    chances: list[float], most: int
) -> None:
    whole, short = count_of(chances), count_of(chances, most)

    assert short[:most] == pytest.approx(whole[:most][: len(short)])
    assert sum(short) == pytest.approx(1.0)


def test_a_chance_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match=r"1\.2 cannot be"):
        matched([1.2], [0.5])
