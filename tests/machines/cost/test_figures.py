"""Costs: cents parted without a rest, the books of invented shops, and the three figures.

Largest remainder is Hamilton's method; parts at cost follow IAS 2 par. 14 and 23 to 27 (both from memory).
"""

from __future__ import annotations

import pytest
from helpers.booking import Noted, lot_of

from kb.machines.cost.books import booked
from kb.machines.cost.figures import each_expected, each_working, of_the_lot, tied_up
from kb.machines.cost.moves import (
    GivenUp,
    PartOut,
    UnitGone,
    Worked,
)

# The three figures.


def test_the_three_figures_are_three() -> None:
    """Invented: a lot of four, one sold, one works, one given up for its pad, one still waiting."""
    moves: list[Noted] = [
        lot_of(4, 8000),
        Worked("P1-00", 20, 3000),
        GivenUp("P1-02", {"pad": 1, "rest": 3}),
        PartOut("P1-02", "pad", "P1-00"),
        UnitGone("P1-02", "waste"),
        UnitGone("P1-00", "sold"),
    ]

    books = booked(moves)

    assert books.units["P1-00"].cents == 2000 + 1000 + 500
    assert each_working(of_the_lot(books, "P1").cents, working=2) == 4500
    assert tied_up(books, done=["P1-01"]) == 2000


def test_nothing_is_said_of_one_machine_where_none_may_work() -> None:
    assert each_working(5000, 0) is None
    assert each_expected(5000, 100, few=0, working=2, many=4) is None


def test_limits_of_a_forecast_rise() -> None:
    with pytest.raises(ValueError, match="5, 4, 6 do not rise"):
        each_expected(5000, 100, few=5, working=4, many=6)
