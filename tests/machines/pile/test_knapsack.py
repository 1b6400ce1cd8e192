"""The knapsack of hours and cents, held against an outside solver."""

from __future__ import annotations

from random import Random

import pytest
from helpers.pile_bounds import knapsack_bound
from hypothesis import given
from hypothesis import strategies as st

from kb.machines.pile.knapsack import Load, filled

loads = st.tuples(
    st.floats(0.1, 2),
    st.floats(1, 60),
    st.sampled_from([0.0, 0.0, 300.0, 900.0, 2400.0]),
)


@given(st.lists(loads, min_size=1, max_size=12), st.floats(0, 300), st.floats(0, 4000))
def test_the_knapsack_agrees_with_an_outside_solver(
    drawn_loads: list[tuple[float, float, float]], minutes: float, cents: float
) -> None:
    found = filled([Load(*load) for load in drawn_loads], minutes, cents)

    assert found.worth == pytest.approx(
        knapsack_bound(drawn_loads, minutes, cents), abs=1e-5
    )
    assert found.minutes <= minutes + 1e-6
    assert found.cents <= cents + 1e-6


def test_prices_of_the_knapsack_are_what_one_more_of_each_brings() -> None:
    rng = Random(2)
    sack = [
        Load(rng.random(), rng.uniform(5, 50), rng.choice([0, 800, 2000]))
        for _ in range(40)
    ]
    found = filled(sack, 300, 4000)

    assert filled(sack, 300.5, 4000).worth - found.worth == pytest.approx(
        found.minute_price * 0.5, rel=0.02
    )
    assert filled(sack, 300, 4005).worth - found.worth == pytest.approx(
        found.cent_price * 5, rel=0.02
    )
