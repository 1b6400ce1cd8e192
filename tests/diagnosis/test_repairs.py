"""Repairs in the order of their probability per minute, held against worked examples."""

from __future__ import annotations

import pytest

from kb.diagnosis.guide import Action, Problem, next_action
from kb.diagnosis.repairs import Repairs


def _order(problem: Problem) -> list[int]:
    """The order in which fixes alone are tried."""
    failed: list[int] = []
    while len(failed) < len(problem.fix_minutes):
        failed.append(next_action(problem, {}, failed).index)
    return failed


def test_example_a_three_fixes_by_probability_per_minute() -> None:
    """Rule of Kadane & Simon 1977: ratios .0125, .03, .01 give the order 2, 1, 3 and 42 minutes."""
    problem = Problem([0.5, 0.3, 0.2], [0, 1, 2], [40, 10, 20])

    assert next_action(problem).expected_minutes == pytest.approx(42)
    assert _order(problem) == [1, 0, 2]


def test_example_a_with_the_last_check_skipped() -> None:
    """When the last check may be skipped (the cause is then known) the rule is wrong by 58 %: 24, not 38.

    Checks that settle one cause each, perfect, and fixes that cost nothing.
    """
    settles = [
        [[1, 0] if cause == test else [0, 1] for cause in range(3)] for test in range(3)
    ]
    problem = Problem(
        [0.5, 0.3, 0.2], [0, 1, 2], [1e6, 1e6, 1e6], [40, 10, 20], settles
    )

    assert next_action(problem).expected_minutes - 1e6 == pytest.approx(24, abs=1e-3)
    assert next_action(problem).index == 1
    assert next_action(problem, {1: 1}).index == 2
    assert next_action(problem, {1: 1, 2: 1}) == Action("fix", 0, 1e6)


def test_example_b_four_repairs() -> None:
    """Best of 24 orders: 4, 2, 3, 1 = 31.5."""
    problem = Problem([0.45, 0.25, 0.20, 0.10], [0, 1, 2, 3], [30, 8, 12, 3])

    assert next_action(problem).expected_minutes == pytest.approx(31.5)
    assert _order(problem) == [3, 1, 2, 0]


def test_example_c_smiths_two_jobs() -> None:
    """Smith 1956: times 1 and 3, weights 10 and 2: sum of weight times completion 18 against 46."""
    assert 12 * Repairs([1, 3], [0, 1]).expected([10 / 12, 2 / 12]) == pytest.approx(18)


def test_the_cover_is_paid_for_only_by_fixes_that_are_said_to_be_inside() -> None:
    """Example A again: neither a closed cover nor what opening it costs changes a minute of fixes outside."""
    assert Repairs([40, 10, 20], [0, 1, 2]).expected(
        [0.5, 0.3, 0.2], opened=False
    ) == pytest.approx(42)
    outside = Repairs([40, 10, 20], [0, 1, 2], opening=12)
    assert outside.least([0.5, 0.3, 0.2], opened=False) == pytest.approx(27)
