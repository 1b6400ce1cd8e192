"""Freshness of lines: what a repair makes unproven, and the minutes of other lines that it costs again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.diagnosis.case import OPENING_MINUTES
from kb.library.checklist import CheckLine
from kb.machines.checkout.figures import ListFigures
from kb.machines.checkout.freshness import (
    Repair,
    redo_minutes,
    undone_since,
    usual_repair,
)


def line(name: str = "keys", **told: object) -> CheckLine:
    return CheckLine(name=name, text="", **told)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("depth", "repairs", "is_stale"),
    [
        (2, [], False),
        (2, [Repair(at=11, depth=1)], False),
        (2, [Repair(at=11, depth=2)], True),
        (2, [Repair(at=11, depth=3)], True),
        (2, [Repair(at=9, depth=3)], False),
        (2, [Repair(at=10, depth=3)], False),
        (2, [Repair(at=11, depth=1), Repair(at=12, depth=2)], True),
        (0, [Repair(at=11, depth=0)], True),
        (1, [Repair(at=11, depth=0)], False),
    ],
)
def test_a_line_good_at_ten_is_stale_once_a_later_repair_went_as_deep(
    depth: int, repairs: list[Repair], is_stale: bool
) -> None:
    assert (undone_since(line(depth=depth), 10, repairs) is not None) == is_stale


def test_a_line_that_stays_is_undone_by_a_change_of_its_part_alone() -> None:
    wiped = line(depth=1, parts=("M.2 drive",), stays=True)

    assert (
        undone_since(wiped, 10, [Repair(at=11, depth=3, parts=frozenset({"panel"}))])
        is None
    )
    assert (
        undone_since(
            wiped, 10, [Repair(at=11, depth=1, parts=frozenset({"M.2 drive"}))]
        )
        is not None
    )


def test_a_new_drive_undoes_the_installation_and_all_that_comes_after_it() -> None:
    drive = line("drive", minutes=3, depth=1, parts=("M.2 drive",), undoes=("install",))
    install = line("install", minutes=15, work=True)
    drivers = line("drivers", minutes=4, depth=3, after=("install",))
    close_up = line("close-up", minutes=6, work=True, depth=1)
    fan = line("fan", minutes=2, depth=2, parts=("fan",))

    redo = redo_minutes([drive, install, drivers, close_up, fan])

    closed_again = 6 + OPENING_MINUTES
    assert redo[0] == [0, 15, 4, closed_again, 0]
    assert redo[4] == [3, 0, 0, closed_again, 0]
    assert redo[1] == redo[3] == [0] * 5


@given(
    st.lists(
        st.tuples(st.integers(0, 3), st.integers(0, 3), st.booleans(), st.booleans()),
        min_size=1,
        max_size=7,
    )
)
def test_minutes_made_necessary_again_are_those_of_the_lines_that_go_stale(
    drawn: list[tuple[int, int, bool, bool]],
) -> None:
    lines = [
        line(
            str(n),
            minutes=1.0 + n,
            depth=depth,
            parts=(f"part {part}",),
            stays=stays,
            work=work,
        )
        for n, (depth, part, stays, work) in enumerate(drawn)
    ]

    redo = redo_minutes(lines)

    for i, repaired in enumerate(lines):
        repair = Repair(
            at=1,
            depth=repaired.depth,
            parts=frozenset(repaired.parts),
            undoes=frozenset(),
        )
        assert usual_repair(repaired, lines).depth == repaired.depth
        for j, other in enumerate(lines):
            again = (
                i != j
                and not repaired.work
                and undone_since(other, 0, [repair]) is not None
            )
            opening = OPENING_MINUTES if other.work and other.depth else 0.0
            assert redo[i][j] == (other.minutes + opening if again else 0.0)


def test_disturbing_by_depth_makes_the_deep_lines_come_first() -> None:
    """Two lines alike but for their depth: the one whose repair disturbs the other is checked first."""
    lines = (line("shallow", minutes=3, depth=2), line("deep", minutes=3, depth=3))

    figures = ListFigures(lines, {"shallow": 0.1, "deep": 0.1})

    assert figures.best_order() == (1, 0)
    assert figures.minutes_of((0, 1)) == pytest.approx(6.3)
    assert figures.minutes_of((1, 0)) == pytest.approx(6.0)
