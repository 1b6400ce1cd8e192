"""Exact orders of few lines, held against every order that is allowed."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import permutations

import pytest
from helpers.checklists import (
    EXACT,
    Checklist,
    least_minutes,
    minutes_of,
    wild,
    workshop,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.machines.checkout.sequence import expected_minutes


@pytest.mark.parametrize("drawn", [workshop, wild])
@pytest.mark.parametrize("pairs", ["none", "chains", "any"])
@pytest.mark.parametrize("seed", range(3))
def test_no_order_of_seven_lines_takes_less(
    drawn: Callable[..., Checklist], pairs: str, seed: int
) -> None:
    checklist = drawn(seed, 7, pairs)
    allowed = (
        one
        for one in permutations(range(7))
        if all(one.index(a) < one.index(b) for a, b in checklist.after)
    )

    assert minutes_of(checklist) == pytest.approx(
        min(expected_minutes(*checklist.figures, one) for one in allowed), rel=EXACT
    )


@pytest.mark.parametrize("drawn", [workshop, wild])
@pytest.mark.parametrize("pairs", ["none", "chains", "tree", "any"])
def test_thirteen_lines_are_exact(drawn: Callable[..., Checklist], pairs: str) -> None:
    for seed in range(5):
        checklist = drawn(seed, 13, pairs)

        assert minutes_of(checklist) == pytest.approx(
            least_minutes(checklist), rel=EXACT
        ), seed


@given(st.integers(0, 10_000), st.integers(1, 9), st.randoms())
@settings(max_examples=80)
def test_no_order_is_ever_below_the_exact_least(
    seed: int, lines: int, chance: random.Random
) -> None:
    checklist = wild(seed, lines)

    some = chance.sample(range(lines), lines)

    assert expected_minutes(*checklist.figures, some) >= least_minutes(checklist) * (
        1 - 1e-12
    )
