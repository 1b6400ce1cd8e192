"""Freshness of lines, shares of failing against the two-level formula, and what finding a fault late costs."""

from __future__ import annotations

import pytest
from helpers.checklists import played, workshop
from hypothesis import given
from hypothesis import strategies as st

from kb.machines.checkout.freshness import Reached, Shown, Word, failing, found_late, redo_by_depth, stale
from kb.machines.checkout.sequence import expected_minutes, order


@pytest.mark.parametrize(
    ("moved", "repairs", "is_stale"),
    [
        (2, [], False),
        (2, [Reached(11, 1)], False),
        (2, [Reached(11, 2)], True),
        (2, [Reached(11, 3)], True),
        (2, [Reached(9, 3)], False),
        (2, [Reached(10, 3)], False),
        (2, [Reached(11, 1), Reached(12, 2)], True),
        (0, [Reached(11, 0)], True),
        (1, [Reached(11, 0)], False),
    ],
)
def test_a_line_good_at_ten_is_stale_once_a_later_repair_went_as_deep(
    moved: int, repairs: list[Reached], is_stale: bool
) -> None:
    assert stale(moved, 10, repairs) == is_stale


@given(st.lists(st.integers(0, 3), min_size=1, max_size=6), st.data())
def test_minutes_made_necessary_again_are_those_of_the_lines_that_go_stale(
    depths: list[int], data: st.DataObject
) -> None:
    moved = data.draw(st.lists(st.integers(0, 3), min_size=len(depths), max_size=len(depths)))
    minutes = [1.0 + line for line in range(len(depths))]

    redo = redo_by_depth(minutes, depths, moved)

    for repaired, depth in enumerate(depths):
        for line, behind in enumerate(moved):
            again = line != repaired and stale(behind, 0, [Reached(1, depth)])
            assert redo[repaired][line] == (minutes[line] if again else 0.0)


def test_depths_are_told_for_every_line() -> None:
    with pytest.raises(ValueError, match="2 minutes, 1 depths, 2 moved"):
        redo_by_depth([1, 2], [1], [1, 1])


@pytest.mark.parametrize(
    ("word", "elsewhere", "here", "share"),
    [
        ("often", Shown(), Shown(), 0.12),
        ("rare", Shown(), Shown(), 0.015),
        ("sometimes", Shown(5, 80), Shown(), 0.06),
        ("sometimes", Shown(5, 80), Shown(3, 12), (3 + 12 * 0.06) / 24),
        ("rare", Shown(), Shown(7, 88), (7 + 12 * 0.015) / 100),
    ],
)
def test_shares_of_failing_by_hand(word: Word, elsewhere: Shown, here: Shown, share: float) -> None:
    """(bad + 20·word) / (seen + 20) elsewhere, then (bad + 12·that) / (seen + 12) here."""
    assert failing(word, elsewhere, here) == pytest.approx(share)


@given(st.integers(0, 200), st.integers(0, 200), st.integers(0, 50), st.integers(0, 50))
def test_one_more_that_failed_never_lowers_the_share(bad: int, more: int, here: int, others: int) -> None:
    elsewhere = Shown(bad, bad + more)

    before = failing("sometimes", elsewhere, Shown(here, here + others))

    assert 0 < before < 1
    assert failing("sometimes", elsewhere, Shown(here + 1, here + others + 1)) > before


@pytest.mark.parametrize("shown", [Shown(3, 2), Shown(-1, 2)])
def test_more_bad_ones_than_were_seen_are_refused(shown: Shown) -> None:
    with pytest.raises(ValueError, match="is no count; count each machine once"):
        failing("rare", shown)


def test_a_word_that_is_none_is_refused() -> None:
    with pytest.raises(ValueError, match="seldom is no word for how often a line fails; write one of often, sometimes"):
        failing("seldom")  # type: ignore[arg-type]


def test_found_late_is_the_difference_that_machines_take_when_the_line_is_put_last() -> None:
    """A line that surely fails and never ends it: played first and played last, the rest never failing."""
    drawn = workshop(3, 10)
    surely = [0.0] * 10
    surely[4] = 1.0
    drawn = type(drawn)(drawn.minutes, surely, [0.0] * 10, drawn.redo, [])
    others = [line for line in range(10) if line != 4]

    late = found_late(4, drawn.ends, drawn.redo, done=[], order=[*others, 4], closing=9)

    (first, _), (last, _) = played(drawn, [4, *others], 1, seed=1), played(drawn, [*others, 4], 1, seed=1)
    assert late == pytest.approx(last - first)
    assert late > 0


def test_a_line_that_ends_it_costs_nothing_again_and_one_found_now_nothing_more() -> None:
    redo = [[9.0, 4.0], [3.0, 9.0]]

    assert found_late(0, [1, 0], redo, done=[], order=[1, 0], closing=1) == 0
    assert found_late(0, [0, 0], redo, done=[1], order=[0, 1], closing=1) == 0
    assert found_late(0, [0.25, 0], redo, done=[], order=[0, 1], closing=1) == 3


def test_closing_stands_in_the_order() -> None:
    with pytest.raises(ValueError, match="the order does not hold line 7"):
        found_late(0, [0], [[0]], done=[], order=[0], closing=7)


def test_disturbing_by_depth_makes_the_deep_lines_come_first() -> None:
    """Two lines alike but for their depth: the one whose repair disturbs the other is checked first."""
    redo = redo_by_depth([3, 3], depths=[0, 3], moved=[2, 2])

    found = order([3, 3], [0.1, 0.1], [0, 0], redo)

    assert found == (1, 0)
    assert expected_minutes([3, 3], [0.1, 0.1], [0, 0], redo, (0, 1)) == pytest.approx(6.3)
