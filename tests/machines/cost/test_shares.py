"""Shares of cents: parted by largest remainder, as in the textbook example of the method."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.machines.cost.shares import piece, shared, worked_cents

# Sharing.


@pytest.mark.parametrize(
    ("cents", "weights", "parts"),
    [
        (10000, [3, 3, 3], (3334, 3333, 3333)),
        (86401, [3, 1, 7, 2], (19939, 6646, 46524, 13292)),
        (7, [1, 1, 1, 1], (2, 2, 2, 1)),
        (0, [1, 2], (0, 0)),
        (5, [0, 0, 0], (2, 2, 1)),
        (5, [0, 3, 0], (0, 5, 0)),
        (-10000, [3, 3, 3], (-3334, -3333, -3333)),
        (0, [], ()),
        (2, [0.1, 0.3], (1, 1)),
        (100, [Decimal("0.1"), Fraction(2, 10)], (33, 67)),
        (10**30 + 1, [1, 1], ((10**30) // 2 + 1, 10**30 // 2)),
    ],
)
def test_cents_are_parted_by_largest_remainder(
    cents: int, weights: list[Any], parts: tuple[int, ...]
) -> None:
    assert shared(cents, weights) == parts


def test_seats_are_parted_as_in_the_textbook_example_of_the_method() -> None:
    """The paradox of Alabama's house: of 26 seats by 9061, 7179, 5259, 3319, 1182 the parts 9, 7, 5, 4, 1, and of 27
    seats 9, 8, 6, 3, 1: one more seat takes one away (Balinski & Young 1982, table, from memory)."""
    people = [9061, 7179, 5259, 3319, 1182]

    assert shared(26, people) == (9, 7, 5, 4, 1)
    assert shared(27, people) == (9, 8, 6, 3, 1)


WEIGHTS = st.lists(
    st.one_of(st.integers(0, 10**6), st.floats(0, 1e6)), min_size=1, max_size=12
)


@pytest.mark.slow
@given(st.integers(-(10**12), 10**12), WEIGHTS)
@settings(max_examples=300)
def test_parts_are_whole_add_up_and_are_never_a_cent_off_their_quota(
    cents: int, weights: Sequence[float]
) -> None:
    parts = shared(cents, weights)

    assert sum(parts) == cents
    exact = [Fraction(str(weight)) for weight in weights]
    if any(exact):
        assert all(
            abs(part - cents * one / sum(exact)) < 1
            for part, one in zip(parts, exact, strict=True)
        )
        assert all(part == 0 for part, one in zip(parts, exact, strict=True) if not one)
    else:
        assert max(parts) - min(parts) <= 1


@pytest.mark.parametrize(
    ("cents", "weights", "said"),
    [
        (12.5, [1], "12.5 is not a sum to share; give whole cents, 12.50 as 1250"),
        (10, [], "10 cents and nobody to share them"),
        (10, [1, -1], "-1 is not a weight; give a number of 0 or more"),
        (10, [float("nan")], "nan is not a weight"),
        (10, [float("inf")], "inf is not a weight"),
    ],
)
def test_sums_that_cannot_be_parted_are_refused_with_a_sentence(
    cents: Any, weights: list[Any], said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        shared(cents, weights)


@pytest.mark.parametrize(
    ("minutes", "hourly", "cents"),
    [
        (10, 3600, 600),
        (0.5, 300, 2),
        (1.5, 300, 8),
        (0.1, 300, 0),
        (7, 3500, 408),
        (0, 3600, 0),
    ],
)
def test_minutes_are_rounded_once_and_halves_to_the_even_cent(
    minutes: float, hourly: int, cents: int
) -> None:
    """0.1 minutes are six seconds and no binary fraction near them: half a cent at 3.00 an hour, to the even 0."""
    assert worked_cents(minutes, hourly) == cents


@given(st.integers(0, 10**6), st.integers(1, 40))
def test_pieces_taken_one_by_one_cost_what_they_cost_together(
    cents: int, count: int
) -> None:
    taken = []
    left = cents
    for there in range(count, 0, -1):
        taken.append(piece(left, there))
        left -= taken[-1]

    assert left == 0
    assert max(taken) - min(taken) <= 1
