"""The order of a check-out: exact where it can be held against an optimum, the proven rules, and its laws.

Rules from memory of Smith 1956 (Naval Research Logistics Quarterly 3), Mitten 1960 (Management Science 7) and Sidney
1975 (Operations Research 23); optima by enumeration and by an independent dynamic programme.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable

import pytest
from helpers.checklists import (
    EXACT,
    GOOD,
    Checklist,
    by_ratio,
    computed,
    least_minutes,
    minutes_of,
    played,
    wild,
    workshop,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.machines.checkout.lines import read
from kb.machines.checkout.sequence import expected_minutes, order


@pytest.mark.parametrize(
    ("ends", "best", "listed"),
    [(0, 8.64, 9.14), (0.5, 7.449875, 7.987375), (1, 6.45, 6.95)],
)
def test_the_small_example_by_hand(ends: float, best: float, listed: float) -> None:
    """Computed by hand: 5 + .5·0 ... with three lines and each repair disturbing everything done."""
    small = Checklist([2, 5, 1], [0.1, 0.5, 0.02], [ends] * 3, [[2, 5, 1]] * 3, [])

    assert computed(small) == (1, 0, 2)
    assert minutes_of(small) == pytest.approx(best, abs=1e-9)
    assert expected_minutes(*small.figures, (0, 1, 2)) == pytest.approx(
        listed, abs=1e-9
    )


@pytest.mark.parametrize("pairs", ["none", "chains", "tree", "any"])
def test_sixteen_lines_of_a_workshop_are_within_a_fifth_of_a_percent(
    pairs: str,
) -> None:
    for seed in range(5):
        checklist = workshop(seed, 16, pairs)

        assert minutes_of(checklist) <= least_minutes(checklist) * 1.002, seed


@pytest.mark.parametrize(
    ("drawn", "lines"), [(workshop, 13), (workshop, 28), (wild, 13)]
)
def test_twenty_thousand_machines_take_what_the_formula_says(
    drawn: Callable[..., Checklist], lines: int
) -> None:
    checklist = drawn(1, lines)
    found = computed(checklist)

    mean, error = played(checklist, found, machines=20_000, seed=3)

    assert abs(mean - expected_minutes(*checklist.figures, found)) < 4 * error


def test_thirty_lines_are_put_in_order_in_a_blink() -> None:
    """20 ms of processor time are asked for; here several times that, so that a busy machine does not fail it."""
    lists = [
        workshop(seed, 30, pairs) for seed in range(4) for pairs in ("none", "chains")
    ]
    began = time.thread_time()

    for checklist in lists:
        computed(checklist)

    assert (time.thread_time() - began) / len(lists) < 0.06


@given(
    st.integers(0, 10_000),
    st.integers(1, 9),
    st.sampled_from(["none", "chains", "tree", "any"]),
    st.randoms(),
)
@settings(max_examples=80)
def test_other_numbers_for_the_same_lines_give_the_same_minutes(
    seed: int, lines: int, pairs: str, chance: random.Random
) -> None:
    checklist = wild(seed, lines, pairs)
    old = chance.sample(range(lines), lines)

    renamed = Checklist(
        [checklist.minutes[i] for i in old],
        [checklist.fails[i] for i in old],
        [checklist.ends[i] for i in old],
        [[checklist.redo[i][j] for j in old] for i in old],
        [(old.index(a), old.index(b)) for a, b in checklist.after],
    )

    assert minutes_of(renamed) == pytest.approx(minutes_of(checklist), rel=EXACT)
    assert expected_minutes(
        *checklist.figures, [old[i] for i in computed(renamed)]
    ) == pytest.approx(minutes_of(checklist), rel=EXACT)


@pytest.mark.slow
@given(
    st.integers(0, 10_000),
    st.integers(14, 22),
    st.sampled_from(["none", "chains", "tree", "any"]),
)
@settings(max_examples=25)
def test_many_lines_stand_as_they_must_and_never_take_longer_than_by_the_famous_rule(
    seed: int, lines: int, pairs: str
) -> None:
    checklist = workshop(seed, lines, pairs)

    found = computed(checklist)

    assert sorted(found) == list(range(lines))
    assert all(found.index(a) < found.index(b) for a, b in checklist.after)
    assert minutes_of(checklist) <= expected_minutes(
        *checklist.figures, by_ratio(checklist)
    ) * (1 + 1e-9)


@pytest.mark.slow
@pytest.mark.parametrize(("drawn", "lines"), [(wild, 8), (wild, 12), (workshop, 18)])
def test_pinned_lines_stand_first_as_given_and_the_rest_is_the_best_behind_them(
    drawn: Callable[..., Checklist], lines: int
) -> None:
    checklist = drawn(2, lines)
    pinned = (lines - 1, 3)

    found = computed(checklist, pinned)

    assert found[:2] == pinned
    rest = [line for line in range(lines) if line not in pinned]
    forced = Checklist(*checklist.figures, [pinned, *((3, line) for line in rest)])
    assert expected_minutes(*checklist.figures, found) == pytest.approx(
        least_minutes(forced), rel=EXACT
    )


def test_a_closing_line_with_nothing_to_find_stands_last() -> None:
    """Closing up never fails and every deep repair undoes it."""
    checklist = workshop(5, 13)
    undone = [[*row[:-1], 5.0] for row in checklist.redo]

    found = order(checklist.minutes, checklist.fails, checklist.ends, undone)

    assert found[-1] == 12


@pytest.mark.parametrize("lines", [9, 20])
def test_what_a_repair_makes_necessary_of_its_own_line_does_not_matter(
    lines: int,
) -> None:
    checklist = workshop(6, lines)

    odd = [
        [900.0 * (line % 3) if line == other else row[other] for other in range(lines)]
        for line, row in enumerate(checklist.redo)
    ]

    assert order(checklist.minutes, checklist.fails, checklist.ends, odd) == computed(
        checklist
    )
    told = read(checklist.minutes, checklist.fails, checklist.ends, odd)
    assert [told.again[line][line] for line in range(lines)] == [0] * lines


@pytest.mark.parametrize("given_order", [(0,), (0, 0), (0, 2), (0, 1, 1)])
def test_minutes_are_told_for_whole_orders_only(given_order: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match=r"order names"):
        expected_minutes(**GOOD, order=given_order)


def test_a_pair_that_leads_through_a_third_line_holds_for_pinned_lines_too() -> None:
    """0 before 2 before 1: pinning 1 first would leave 2 behind it."""
    with pytest.raises(ValueError, match="first has line 1 before line 2"):
        order(
            [1, 1, 1],
            [0.1] * 3,
            [0] * 3,
            [[0] * 3] * 3,
            first=[0, 1],
            after=[(0, 2), (2, 1)],
        )
