"""Phrases of which a command's lines are made."""

from __future__ import annotations

import pytest

from kb.cli.phrases import first_of, if_any, if_known


@pytest.mark.parametrize("nothing", ["", 0, None])
def test_a_phrase_is_left_out_where_there_is_nothing_to_say(nothing: object) -> None:
    assert if_any(" for {}", nothing) == ""


def test_a_figure_of_0_is_told_as_long_as_it_is_known() -> None:
    assert (if_known(", {:g} min", 0), if_known(", {:g} min", None)) == (", 0 min", "")


def test_what_is_said_may_hold_braces() -> None:
    assert if_any(" for {}", "a {strange} one") == " for a {strange} one"


@pytest.mark.parametrize(
    ("names", "told"),
    [([], ""), (["a", "b"], "a, b"), (["a", "b", "c", "d"], "a, b and 2 more")],
)
def test_a_list_is_told_by_its_first_names_and_how_many_more_there_are(
    names: list[str], told: str
) -> None:
    assert first_of(names, 2) == told
