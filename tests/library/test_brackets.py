"""Brackets of tests and fixes: each piece fills its field, and what belongs elsewhere is not understood."""

from __future__ import annotations

import pytest

from kb.library.acts import Act
from kb.library.brackets import Attributes

EMPTY = Attributes()


@pytest.mark.parametrize(
    ("piece", "field", "value"),
    [
        ("2 min", "minutes", 2.0),
        ("wait 30 min", "wait", 30.0),
        ("cover off", "cover_off", True),
        ("first", "first", True),
        ("act drain  it", "act", "drain it"),
        ("after 2, 3", "after", ("2", "3")),
        ("needs multimeter, scale", "needs", ("multimeter", "scale")),
        ("9 in 10", "reliability", 0.9),
        ("says nothing of charger", "untold", ("charger",)),
    ],
)
def test_a_piece_fills_its_field_and_no_other(
    piece: str, field: str, value: object
) -> None:
    told = EMPTY.with_piece(piece, of_fix=False)

    assert told == Attributes(**{field: value})  # type: ignore[arg-type]


@pytest.mark.parametrize("piece", ["2 mins", "10 in 9", "0 in 5", "part battery", ""])
def test_what_is_none_of_a_test_is_not_understood(piece: str) -> None:
    assert EMPTY.with_piece(piece, of_fix=False) is None


@pytest.mark.parametrize("piece", ["first", "9 in 10", "says nothing of charger"])
def test_what_is_of_tests_alone_is_not_understood_in_a_fix(piece: str) -> None:
    assert EMPTY.with_piece(piece, of_fix=True) is None
    assert EMPTY.with_piece("part battery", of_fix=True) == Attributes(
        parts=("battery",)
    )


def test_an_act_fills_in_what_the_bracket_leaves_open() -> None:
    act = Act(name="drain", minutes=5.0, wait=10.0, trust=0.8, text="drain it")

    assert Attributes(minutes=7.0).filled_in(act) == Attributes(
        minutes=7.0, wait=10.0, reliability=0.8
    )
