"""The order of a check-out: exact where it can be held against an optimum, the proven rules, and its laws.

Rules from memory of Smith 1956 (Naval Research Logistics Quarterly 3), Mitten 1960 (Management Science 7) and Sidney
1975 (Operations Research 23); optima by enumeration and by an independent dynamic programme.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from itertools import pairwise, permutations, product
from typing import Any

import pytest
from helpers.checklists import Checklist, by_ratio, chains, everything_again, least_minutes, played, wild, workshop
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.machines.checkout.lines import read
from kb.machines.checkout.moves import settled, ties_by_number
from kb.machines.checkout.rules import as_listed, ratio_rule
from kb.machines.checkout.sequence import expected_minutes, order

EXACT = 1e-9


def _computed(checklist: Checklist, first: Sequence[int] = ()) -> tuple[int, ...]:
    return order(*checklist.figures, first=first, after=checklist.after)


def _minutes(checklist: Checklist) -> float:
    return expected_minutes(*checklist.figures, _computed(checklist))


@pytest.mark.parametrize(("ends", "best", "listed"), [(0, 8.64, 9.14), (0.5, 7.449875, 7.987375), (1, 6.45, 6.95)])
def test_the_small_example_by_hand(ends: float, best: float, listed: float) -> None:
    """Computed by hand: 5 + .5·0 ... with three lines and each repair disturbing everything done."""
    small = Checklist([2, 5, 1], [0.1, 0.5, 0.02], [ends] * 3, [[2, 5, 1]] * 3, [])

    assert _computed(small) == (1, 0, 2)
    assert _minutes(small) == pytest.approx(best, abs=1e-9)
    assert expected_minutes(*small.figures, (0, 1, 2)) == pytest.approx(listed, abs=1e-9)


@pytest.mark.parametrize("drawn", [workshop, wild])
@pytest.mark.parametrize("pairs", ["none", "chains", "any"])
@pytest.mark.parametrize("seed", range(3))
def test_no_order_of_seven_lines_takes_less(drawn: Callable[..., Checklist], pairs: str, seed: int) -> None:
    checklist = drawn(seed, 7, pairs)
    allowed = (one for one in permutations(range(7)) if all(one.index(a) < one.index(b) for a, b in checklist.after))

    assert _minutes(checklist) == pytest.approx(
        min(expected_minutes(*checklist.figures, one) for one in allowed), rel=EXACT
    )


@pytest.mark.parametrize("drawn", [workshop, wild])
@pytest.mark.parametrize("pairs", ["none", "chains", "tree", "any"])
def test_thirteen_lines_are_exact(drawn: Callable[..., Checklist], pairs: str) -> None:
    for seed in range(5):
        checklist = drawn(seed, 13, pairs)

        assert _minutes(checklist) == pytest.approx(least_minutes(checklist), rel=EXACT), seed


@pytest.mark.parametrize("pairs", ["none", "chains", "tree", "any"])
def test_sixteen_lines_of_a_workshop_are_within_a_fifth_of_a_percent(pairs: str) -> None:
    for seed in range(5):
        checklist = workshop(seed, 16, pairs)

        assert _minutes(checklist) <= least_minutes(checklist) * 1.002, seed


@pytest.mark.parametrize("lines", [9, 13, 28, 40])
@pytest.mark.parametrize("ends", [0.0, 0.3, 1.0], ids=["Smith", "one g for all", "Mitten"])
def test_the_proven_ratio_is_met_where_every_repair_disturbs_everything(lines: int, ends: float) -> None:
    """q/t for g = 0 (Smith 1956) and g = 1 (Mitten 1960); between them q/(t·(1 - g·(1 - g)·q))."""
    for seed in range(5):
        drawn = everything_again(seed, lines, ends)
        ratios = [q / (t * (1 - ends * (1 - ends) * q)) for t, q in zip(drawn.minutes, drawn.fails, strict=True)]
        by_rule = sorted(range(lines), key=lambda line, ratios=ratios: -ratios[line])  # type: ignore[misc]

        assert _minutes(drawn) == pytest.approx(expected_minutes(*drawn.figures, by_rule), rel=EXACT)
        assert _computed(drawn) == tuple(by_rule)


@pytest.mark.parametrize("lines", [13, 28])
def test_chains_are_cut_into_their_best_beginnings(lines: int) -> None:
    """Sidney 1975: again and again the beginning of a chain with the highest sum of q over sum of t."""
    for seed in range(8):
        drawn = everything_again(seed, lines, 0.0)
        chance = random.Random(seed)
        cut = chains(chance.sample(range(lines), lines), chance)
        chained = Checklist(*drawn.figures, [pair for chain in cut for pair in pairwise(chain)])

        assert _minutes(chained) == pytest.approx(
            expected_minutes(*chained.figures, _by_sidney(chained, cut)), rel=EXACT
        )


def _by_sidney(checklist: Checklist, cut: list[list[int]]) -> list[int]:
    left, found = [list(chain) for chain in cut], []
    while any(left):
        beginnings = [chain[:length] for chain in left for length in range(1, len(chain) + 1)]
        best = max(
            beginnings, key=lambda some: sum(checklist.fails[i] for i in some) / sum(checklist.minutes[i] for i in some)
        )
        found += best
        left = [chain[len(best) :] if chain[: len(best)] == best else chain for chain in left]
    return found


@pytest.mark.parametrize("ends", [0.0, 0.4, 1.0])
@pytest.mark.parametrize("pairs", ["chains", "tree"])
def test_chains_and_trees_of_lines_are_exact_by_rule_alone(ends: float, pairs: str) -> None:
    """The rule for runs (Sidney 1975 for chains, Horn 1972 for trees) with one g for all, against the optimum."""
    for seed in range(10):
        drawn = everything_again(seed, 12, ends, pairs)
        lines = read(*drawn.figures, drawn.after)

        assert lines.expected(ratio_rule(lines)) == pytest.approx(least_minutes(drawn), rel=EXACT), seed


@pytest.mark.parametrize(("drawn", "lines"), [(workshop, 13), (workshop, 28), (wild, 13)])
def test_twenty_thousand_machines_take_what_the_formula_says(drawn: Callable[..., Checklist], lines: int) -> None:
    checklist = drawn(1, lines)
    found = _computed(checklist)

    mean, error = played(checklist, found, machines=20_000, seed=3)

    assert abs(mean - expected_minutes(*checklist.figures, found)) < 4 * error


def test_thirty_lines_are_put_in_order_in_a_blink() -> None:
    """20 ms of processor time are asked for; here several times that, so that a busy machine does not fail it."""
    lists = [workshop(seed, 30, pairs) for seed in range(4) for pairs in ("none", "chains")]
    began = time.thread_time()

    for checklist in lists:
        _computed(checklist)

    assert (time.thread_time() - began) / len(lists) < 0.06


@given(st.integers(0, 10_000), st.integers(1, 9), st.sampled_from(["none", "chains", "tree", "any"]), st.randoms())
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

    assert _minutes(renamed) == pytest.approx(_minutes(checklist), rel=EXACT)
    assert expected_minutes(*checklist.figures, [old[i] for i in _computed(renamed)]) == pytest.approx(
        _minutes(checklist), rel=EXACT
    )


@given(st.integers(0, 10_000), st.integers(1, 9), st.randoms())
@settings(max_examples=80)
def test_no_order_is_ever_below_the_exact_least(seed: int, lines: int, chance: random.Random) -> None:
    checklist = wild(seed, lines)

    some = chance.sample(range(lines), lines)

    assert expected_minutes(*checklist.figures, some) >= least_minutes(checklist) * (1 - 1e-12)


@given(st.integers(0, 10_000), st.integers(14, 22), st.sampled_from(["none", "chains", "tree", "any"]))
@settings(max_examples=25)
def test_many_lines_stand_as_they_must_and_never_take_longer_than_by_the_famous_rule(
    seed: int, lines: int, pairs: str
) -> None:
    checklist = workshop(seed, lines, pairs)

    found = _computed(checklist)

    assert sorted(found) == list(range(lines))
    assert all(found.index(a) < found.index(b) for a, b in checklist.after)
    assert _minutes(checklist) <= expected_minutes(*checklist.figures, by_ratio(checklist)) * (1 + 1e-9)


@given(st.integers(0, 10_000), st.integers(4, 16), st.sampled_from(["none", "chains", "tree", "any"]))
@settings(max_examples=40)
def test_no_line_and_no_short_run_can_stand_better_once_all_were_moved(seed: int, lines: int, pairs: str) -> None:
    drawn = wild(seed, lines, pairs)
    told = read(*drawn.figures, drawn.after)

    found = settled(told, as_listed(told), longest=3)

    _assert_no_move_helps(drawn, found)


@pytest.mark.parametrize("seed", [3, 9, 22])
def test_chains_of_many_lines_are_moved_as_runs_too(seed: int) -> None:
    """Lists on which moves of single lines alone end .4 to .6 % above."""
    drawn = workshop(seed, 28, "chains")

    _assert_no_move_helps(drawn, list(_computed(drawn)))


def _assert_no_move_helps(checklist: Checklist, found: list[int]) -> None:
    told = read(*checklist.figures, checklist.after)
    for length, start in product((1, 2, 3), range(len(found))):
        run, rest = found[start : start + length], found[:start] + found[start + length :]
        for place in range(len(rest) + 1):
            other = [*rest[:place], *run, *rest[place:]]
            if all(other.index(a) < other.index(b) for a, b in checklist.after):
                assert told.expected(other) >= told.expected(found) * (1 - 1e-9)


@pytest.mark.parametrize(("drawn", "lines"), [(wild, 8), (wild, 12), (workshop, 18)])
def test_pinned_lines_stand_first_as_given_and_the_rest_is_the_best_behind_them(
    drawn: Callable[..., Checklist], lines: int
) -> None:
    checklist = drawn(2, lines)
    pinned = (lines - 1, 3)

    found = _computed(checklist, pinned)

    assert found[:2] == pinned
    rest = [line for line in range(lines) if line not in pinned]
    forced = Checklist(*checklist.figures, [pinned, *((3, line) for line in rest)])
    assert expected_minutes(*checklist.figures, found) == pytest.approx(least_minutes(forced), rel=EXACT)


def test_a_closing_line_with_nothing_to_find_stands_last() -> None:
    """Closing up never fails and every deep repair undoes it."""
    checklist = workshop(5, 13)
    undone = [[*row[:-1], 5.0] for row in checklist.redo]

    found = order(checklist.minutes, checklist.fails, checklist.ends, undone)

    assert found[-1] == 12


@pytest.mark.parametrize("lines", [6, 20])
def test_lines_that_are_alike_stay_in_the_order_of_their_numbers(lines: int) -> None:
    same = [[0.0] * lines] * lines

    assert order([3.0] * lines, [0.1] * lines, [0.5] * lines, same) == tuple(range(lines))
    assert order([3.0] * lines, [0.1] * lines, [0.5] * lines, same, after=[(4, 1)]) == (0, 2, 3, 4, 1, *range(5, lines))


def test_of_orders_that_take_the_same_the_one_with_lower_numbers_first_is_told() -> None:
    alike = read([3.0] * 20, [0.1] * 20, [0.5] * 20, [[1.0] * 20] * 20, after=[(7, 2)])
    turned = [*range(19, 2, -1), 2, 1, 0]

    assert ties_by_number(alike, turned) == [0, 1, 3, 4, 5, 6, 7, 2, *range(8, 20)]


@pytest.mark.parametrize("lines", [9, 20])
def test_what_a_repair_makes_necessary_of_its_own_line_does_not_matter(lines: int) -> None:
    checklist = workshop(6, lines)

    odd = [
        [900.0 * (line % 3) if line == other else row[other] for other in range(lines)]
        for line, row in enumerate(checklist.redo)
    ]

    assert order(checklist.minutes, checklist.fails, checklist.ends, odd) == _computed(checklist)
    told = read(checklist.minutes, checklist.fails, checklist.ends, odd)
    assert [told.again[line][line] for line in range(lines)] == [0] * lines


def test_the_rule_for_runs_allows_no_line_before_one_that_it_has_to_follow() -> None:
    for seed in range(80):
        drawn = wild(seed, 14, "any")

        found = ratio_rule(read(*drawn.figures, drawn.after))

        assert sorted(found) == list(range(14))
        assert all(found.index(a) < found.index(b) for a, b in drawn.after)


def test_a_run_that_joined_another_waits_for_all_that_both_waited_for() -> None:
    """Lines 1, 3 and 6 are worth most and join what they follow one after the other; 6 must not join 4 before 5."""
    pairs = [(0, 1), (2, 1), (2, 3), (4, 3), (0, 5), (5, 6), (4, 6)]
    fails = [0.01, 0.9, 0.01, 0.8, 0.01, 0.01, 0.7]

    found = ratio_rule(read([100, 1, 100, 1, 100, 100, 1], fails, [0] * 7, [[1] * 7] * 7, pairs))

    assert all(found.index(a) < found.index(b) for a, b in pairs)


def test_no_line_at_all_and_one_alone_are_orders_too() -> None:
    assert order([], [], [], []) == ()
    assert expected_minutes([], [], [], [], ()) == 0
    assert order([4], [1], [1], [[9]], first=[0]) == (0,)


def test_lines_that_take_no_minutes_or_never_fail_are_no_trouble() -> None:
    nothing = [[0.0] * 15] * 15

    assert order([0] * 15, [0] * 15, [0] * 15, nothing) == tuple(range(15))
    assert expected_minutes([0] * 15, [1] * 15, [0] * 15, nothing, range(15)) == 0


GOOD: dict[str, Any] = {"minutes": [1, 2], "fails": [0.1, 0.2], "ends": [0, 0], "redo": [[0, 1], [1, 0]]}


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"fails": [0.1]}, "fails has 1 numbers and minutes 2; give one for each line"),
        ({"ends": [0, 0, 0]}, "ends has 3 numbers and minutes 2"),
        ({"redo": [[0, 1]]}, "redo has 1 numbers"),
        ({"redo": [[0, 1], [1]]}, r"redo\[1\] has 1 numbers"),
        ({"minutes": [1, -2]}, r"minutes\[1\] is -2; give 0 or more"),
        ({"minutes": [1, float("nan")]}, r"minutes\[1\] is nan"),
        ({"minutes": [1, float("inf")]}, r"minutes\[1\] is inf"),
        ({"fails": [0.1, 1.2]}, r"fails\[1\] is 1.2; give a probability, 0 to 1"),
        ({"ends": [-0.1, 0]}, r"ends\[0\] is -0.1"),
        ({"redo": [[0, -1], [1, 0]]}, r"redo\[0\]\[1\] is -1"),
        ({"first": [2]}, "first names line 2; the lines are numbered 0 to 1"),
        ({"first": [-1]}, "first names line -1"),
        ({"first": [0.5]}, "first holds something that numbers no line; give whole numbers"),
        ({"after": [(0,)]}, r"after holds \(0,\); give pairs of lines, the earlier one first"),
        ({"first": [1, 1]}, "first names a line twice"),
        ({"after": [(0, 2)]}, "after names line 2"),
        ({"after": [(1, 1)]}, "after says that line 1 comes before itself"),
        ({"after": [(0, 1), (1, 0)]}, "after leads in a circle through line 0"),
        ({"first": [1], "after": [(0, 1)]}, "first has line 1 before line 0, after the other way round"),
        ({"first": [1, 0], "after": [(0, 1)]}, "first has line 1 before line 0"),
    ],
)
def test_figures_that_cannot_be_are_refused_with_a_sentence(wrong: dict[str, Any], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        order(**{**GOOD, **wrong})


@pytest.mark.parametrize("given_order", [(0,), (0, 0), (0, 2), (0, 1, 1)])
def test_minutes_are_told_for_whole_orders_only(given_order: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match=r"order names"):
        expected_minutes(**GOOD, order=given_order)


def test_a_pair_that_leads_through_a_third_line_holds_for_pinned_lines_too() -> None:
    """0 before 2 before 1: pinning 1 first would leave 2 behind it."""
    with pytest.raises(ValueError, match="first has line 1 before line 2"):
        order([1, 1, 1], [0.1] * 3, [0] * 3, [[0] * 3] * 3, first=[0, 1], after=[(0, 2), (2, 1)])
