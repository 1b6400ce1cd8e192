"""Outcomes that a cause shows, by what a sheet says and leaves unsaid."""

from __future__ import annotations

import pytest
from helpers.marked import MARKED

from kb.library.markdown import parse
from kb.library.outcomes import outcome_probabilities
from kb.model import Entry


def test_of_a_cause_that_a_test_says_nothing_of_nothing_is_learned(
    marked: Entry,
) -> None:
    drain = marked.tests[0]

    assert outcome_probabilities(drain, "charger") == (0.5, 0.5)
    assert outcome_probabilities(drain, "hang") == pytest.approx((0.72, 0.28))


def test_an_outcome_that_points_to_another_sheet_is_not_what_a_cause_here_would_show() -> (
    None
):
    text = MARKED.replace(
        "    - it starts: charger, hang; not board\n", "    - bright: nothing\n"
    ).replace(": board; see", ": see")
    entry = parse(text, "no-light").entry

    assert entry is not None
    assert outcome_probabilities(entry.tests[1], "hang") == pytest.approx(
        (0.1, 0.1, 0.8)
    )
