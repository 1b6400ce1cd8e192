"""Intervals for a mean of few values, held against scipy."""

from __future__ import annotations

import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st

from kb.base.means import mean_interval, student


@pytest.mark.parametrize("degrees", [1, 2, 5, 30, 400])
def test_students_quantile_is_that_of_scipy(degrees: int) -> None:
    assert student(0.975, degrees) == pytest.approx(scipy.stats.t.ppf(0.975, degrees), rel=1e-9)


@given(st.lists(st.floats(0, 500), min_size=2, max_size=40))
def test_the_interval_for_a_mean_is_that_of_scipy(values: list[float]) -> None:
    found = mean_interval(values)
    spread = scipy.stats.sem(values)
    middle = sum(values) / len(values)
    reach = scipy.stats.t.ppf(0.975, len(values) - 1) * spread

    assert found
    assert found.high == pytest.approx(middle + reach, rel=1e-6, abs=1e-9)
    assert found.low == pytest.approx(max(middle - reach, 0.0), rel=1e-6, abs=1e-6)


def test_one_value_leaves_its_mean_open() -> None:
    assert mean_interval([3.0]) is None
