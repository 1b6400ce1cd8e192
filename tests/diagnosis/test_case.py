"""The guide on problems as the entries have them, beside the exact optimum: minutes of the cover, shared fixes.

The optima are this project's own computation: every plan is tried (`tests/helpers/covered.py`).
"""

from __future__ import annotations

import pytest

from kb.bench.front import Bench
from kb.diagnosis.case import CaseRepair, SoFar, cover_is_off
from kb.diagnosis.guide import Problem, next_action, weigh
from kb.model import Finding


def test_the_cover_is_paid_once_before_the_first_step_that_needs_it_off() -> None:
    """By hand: 5 minutes of a fix outside, then 20 for the cover and 10 inside with probability 1/4."""
    problem = Problem([0.75, 0.25], [0, 1], [5, 10], opening_minutes=20, fix_inside=[1])

    assert next_action(problem).expected_minutes == pytest.approx(5 + 0.25 * 30)
    assert next_action(problem, failed=[0]).expected_minutes == pytest.approx(30)
    assert weigh(problem, failed=[0])[0].minutes == pytest.approx(30)
    assert next_action(
        problem, failed=[0], opened=True
    ).expected_minutes == pytest.approx(10)


def test_a_test_inside_pays_for_the_cover_and_the_fix_after_it_does_not() -> None:
    """By hand: a perfect test inside (1 + 20), then the one fix that is right (100, inside)."""
    settles = [[[1.0, 0.0], [0.0, 1.0]]]
    problem = Problem([0.5, 0.5], [0, 1], [100, 100], [1], settles, 20, [0, 1], [0])

    assert next_action(problem).kind == "test"
    assert next_action(problem).expected_minutes == pytest.approx(21 + 100)


def test_a_test_outside_costs_no_cover() -> None:
    settles = [[[1.0, 0.0], [0.0, 1.0]]]
    problem = Problem([0.5, 0.5], [0, 1], [100, 100], [1], settles, 20, [0], [])

    assert next_action(problem).expected_minutes == pytest.approx(1 + 100 + 0.5 * 20)


# As the front door asks it, over the small corpus: every test and fix of it needs the cover off

WORDS, RESEAT = (
    "shows no battery although one is fitted",
    "no-battery/reseat-the-battery-plug",
)


def test_a_cover_that_a_test_of_the_job_took_off_is_not_paid_again(
    bench: Bench,
) -> None:
    """The same belief twice: a test set aside, and the same test done with an outcome that says nothing."""
    aside = bench.asking.search(WORDS, at=SoFar(skipped=(RESEAT,))).next_step
    done = bench.asking.search(
        WORDS, findings=[Finding(RESEAT, "something else was seen")]
    ).next_step

    assert aside
    assert done
    assert (aside.kind, aside.name) == (done.kind, done.name)
    assert aside.expected_minutes - done.expected_minutes == pytest.approx(5)


def test_a_fix_that_was_tried_took_the_cover_off(bench: Bench) -> None:
    failed = SoFar(failed=("no-battery/plug",))
    with bench.shop.knowing() as knowledge:
        assert cover_is_off(failed, knowledge)
        assert not cover_is_off(
            SoFar(failed=("starts-no-charge/setting", "gone/gone")), knowledge
        )


def test_a_part_costs_ten_minutes_of_getting_it(bench: Bench) -> None:
    """Common practice (decision 13 of DEVELOPERS): 10 min to fit the pack, 10 to get it; the plug is only seated."""
    entry = bench.entries.entry("no-battery")
    assert entry

    minutes = {
        name: CaseRepair("no-battery", entry.fix_for(name)).minutes
        for name in ("plug", "pack")
    }

    assert minutes == {"plug": 5, "pack": 20}
