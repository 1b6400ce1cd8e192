"""Pallets of the demo: as they were meant, and no part given twice."""

from __future__ import annotations

from collections import Counter

import pytest

from kb.bench.front import Bench
from kb.machines.units import FloorState

# The demo


def test_the_lot_in_the_middle_stands_as_it_was_meant_to(demo: Bench) -> None:
    lot = demo.machines.lot("P7")

    assert {state.value: number for state, number in lot.states.items()} == {
        "waiting": 11,
        "on the bench": 2,
        "waiting for a part": 5,
        "to be checked": 3,
        "ready": 7,
        "donor": 5,
        "gone": 3,
    }
    assert sum(one.step.value == "first look" for one in lot.units) == 3
    gone = Counter(
        demo.machines.unit(one.line.tag).gone
        for one in lot.units
        if one.state is FloorState.GONE
    )
    assert gone == {"sold": 2, "returned": 1}


@pytest.mark.slow
def test_no_donor_of_the_demo_gives_a_part_twice_and_parts_cross_models_within_families_alone(
    demo: Bench,
) -> None:
    from kb.demo.scenario import shipped_scenario

    given: Counter[tuple[str, str]] = Counter()
    for job in demo.history().closed_jobs():
        if job.donor:
            given[job.donor, job.part] += 1
            model = demo.machines.unit(job.donor).model
            assert (
                not model
                or model == job.model
                or shipped_scenario().fits_across(job.part, model, job.model)
            ), job
    assert len(given) > 300
    assert set(given.values()) == {1}
