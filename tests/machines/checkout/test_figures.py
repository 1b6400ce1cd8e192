"""The figures of a list: what is done, left out and pinned, and what finding a fault late costs."""

from __future__ import annotations

import random

import pytest
from helpers.checklists import played, workshop
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.library.checklist import CheckLine
from kb.machines.checkout.figures import ListFigures, found_late


def test_found_late_is_the_difference_that_machines_take_when_the_line_is_put_last() -> (
    None
):
    """A line that surely fails and never ends it: played first and played last, the rest never failing."""
    drawn = workshop(3, 10)
    surely = [0.0] * 10
    surely[4] = 1.0
    drawn = type(drawn)(drawn.minutes, surely, [0.0] * 10, drawn.redo, [])
    others = [line for line in range(10) if line != 4]

    late = found_late(4, drawn.ends, drawn.redo, done=[], order=[*others, 4], closing=9)

    (first, _), (last, _) = (
        played(drawn, [4, *others], 1, seed=1),
        played(drawn, [*others, 4], 1, seed=1),
    )
    assert late == pytest.approx(last - first)
    assert late > 0


def test_a_line_that_ends_it_costs_nothing_again_and_one_found_now_nothing_more() -> (
    None
):
    redo = [[9.0, 4.0], [3.0, 9.0]]

    assert found_late(0, [1, 0], redo, done=[], order=[1, 0], closing=1) == 0
    assert found_late(0, [0, 0], redo, done=[1], order=[0, 1], closing=1) == 0
    assert found_late(0, [0.25, 0], redo, done=[], order=[0, 1], closing=1) == 3


def test_closing_stands_in_the_order() -> None:
    with pytest.raises(ValueError, match="the order does not hold line 7"):
        found_late(0, [0], [[0]], done=[], order=[0], closing=7)


def drawn_list(seed: int, count: int) -> ListFigures:
    chance = random.Random(seed)
    lines: list[CheckLine] = []
    for number in range(count):
        earlier = [line.name for line in lines if chance.random() < 0.1]
        lines.append(
            CheckLine(
                name=f"line {number}",
                text="",
                minutes=chance.choice([1, 2, 3, 6]),
                depth=chance.randint(0, 3),
                first=number < 2,
                after=tuple(earlier) if number > 2 else (),
                work=chance.random() < 0.1,
                ends=chance.choice([0, 0, 0.3]),
            )
        )
    return ListFigures(
        tuple(lines), {line.name: chance.random() * 0.3 for line in lines}
    )


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10_000), st.integers(3, 10))
def test_every_way_names_each_line_that_is_left_once_with_pinned_ones_first_and_none_before_what_it_follows(
    seed: int, count: int
) -> None:
    figures = drawn_list(seed, count)
    done = [
        number for number in range(count) if random.Random(seed + number).random() < 0.3
    ]

    for way in (figures.best_order(done), figures.listed_order(done)):
        assert sorted([*done, *way]) == list(range(count))
        pinned = [number for number in figures.first if number not in done]
        assert list(way[: len(pinned)]) == pinned
        for earlier, later in figures.after:
            assert (
                earlier in done
                or later in done
                or way.index(earlier) < way.index(later)
            )
    assert (
        figures.minutes_of(figures.best_order(done), done)
        <= figures.minutes_of(figures.listed_order(done), done) + 1e-9
    )


def test_what_is_done_costs_nothing_but_what_a_repair_makes_necessary_of_it() -> None:
    lines = (
        CheckLine(name="charges", text="", minutes=4, depth=1),
        CheckLine(name="keys", text="", minutes=2, depth=2),
    )
    figures = ListFigures(lines, {"charges": 0.5, "keys": 0.25})

    assert figures.best_order(done=[0]) == (1,)
    assert figures.minutes_of((1,), done=[0]) == pytest.approx(2 + 0.25 * 4)


def test_a_list_without_a_closing_step_tells_of_no_late_minutes() -> None:
    figures = ListFigures((CheckLine(name="keys", text="", minutes=2),), {"keys": 0.1})

    assert figures.found_late(0, (0,)) == 0.0
