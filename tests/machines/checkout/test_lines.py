"""Lines of a list as figures: none, one, and figures that cannot be."""

from __future__ import annotations

from typing import Any

import pytest
from helpers.checklists import (
    GOOD,
)

from kb.machines.checkout.sequence import expected_minutes, order


def test_no_line_at_all_and_one_alone_are_orders_too() -> None:
    assert order([], [], [], []) == ()
    assert expected_minutes([], [], [], [], ()) == 0
    assert order([4], [1], [1], [[9]], first=[0]) == (0,)


def test_lines_that_take_no_minutes_or_never_fail_are_no_trouble() -> None:
    nothing = [[0.0] * 15] * 15

    assert order([0] * 15, [0] * 15, [0] * 15, nothing) == tuple(range(15))
    assert expected_minutes([0] * 15, [1] * 15, [0] * 15, nothing, range(15)) == 0


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
        (
            {"first": [0.5]},
            "first holds something that numbers no line; give whole numbers",
        ),
        (
            {"after": [(0,)]},
            r"after holds \(0,\); give pairs of lines, the earlier one first",
        ),
        ({"first": [1, 1]}, "first names a line twice"),
        ({"after": [(0, 2)]}, "after names line 2"),
        ({"after": [(1, 1)]}, "after says that line 1 comes before itself"),
        ({"after": [(0, 1), (1, 0)]}, "after leads in a circle through line 0"),
        (
            {"first": [1], "after": [(0, 1)]},
            "first has line 1 before line 0, after the other way round",
        ),
        ({"first": [1, 0], "after": [(0, 1)]}, "first has line 1 before line 0"),
    ],
)
def test_figures_that_cannot_be_are_refused_with_a_sentence(
    wrong: dict[str, Any], said: str
) -> None:
    with pytest.raises(ValueError, match=said):
        order(**{**GOOD, **wrong})
