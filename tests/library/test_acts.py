"""Standard acts: what the bracket of a sheet says wins over them."""

from __future__ import annotations

from helpers.marked import MARKED

from kb.library.markdown import parse


def test_what_the_bracket_says_wins_over_the_standard_act() -> None:
    entry = parse(
        MARKED.replace("(act drain", "(6 min; 9 in 10; act drain"), "no-light"
    ).entry

    assert entry is not None
    assert (
        entry.tests[0].minutes,
        entry.tests[0].wait,
        entry.tests[0].reliability,
    ) == (6, 10, 0.9)
