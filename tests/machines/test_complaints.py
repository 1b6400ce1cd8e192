"""Complaints of machines: what their causes make believe of parts, minutes included."""

from __future__ import annotations

from typing import Literal

import pytest

from kb.bench.front import Bench
from kb.diagnosis.answer import Outline, OutlinedCause, Step
from kb.diagnosis.answering import Complaint
from kb.diagnosis.case import OPENING_MINUTES, PART_MINUTES
from kb.library.spread import Spread
from kb.machines import complaints
from kb.machines.complaints import BelievedCause
from kb.model import Fix

FIX = Fix(
    text="fit another",
    causes=("pack",),
    minutes=10.0,
    parts=("battery", "battery cable"),
    cover_off=True,
)
CAUSES = (
    BelievedCause("no-battery/pack", 0.6, FIX),
    BelievedCause("no-battery/none", 0.4, None),
)


def test_a_repair_takes_its_fix_the_part_and_the_cover() -> None:
    assert CAUSES[0].minutes == 10.0 + PART_MINUTES + OPENING_MINUTES
    assert CAUSES[1].minutes == 0.0


def test_a_fix_by_several_parts_suspects_all_of_them() -> None:
    (suspicion,) = complaints.suspicions(CAUSES, Spread())

    assert (suspicion.belief, suspicion.parts) == (0.6, ("battery", "battery cable"))


def test_what_spreads_makes_parts_doubtful_that_no_fix_asks_for() -> None:
    found = complaints.suspicions(
        CAUSES, Spread({"no-battery": ("keyboard",), "no-battery/pack": ("touchpad",)})
    )

    assert [(one.belief, one.parts, one.spreads) for one in found] == [
        (0.6, ("battery", "battery cable"), ("touchpad",)),
        (0.4, (), ("keyboard",)),
    ]


def test_a_cause_without_a_fix_is_no_remedy() -> None:
    (remedy,) = complaints.remedies(CAUSES, str.upper)

    assert (remedy.cause, remedy.part, remedy.suspects) == (
        "no-battery/pack",
        "BATTERY",
        ("BATTERY CABLE",),
    )


def test_the_pools_that_machines_want_are_told_with_their_tags() -> None:
    one, two = (
        complaints.wanting(tag, "battery", 5.0, str.upper) for tag in ("T-1", "T-2")
    )

    assert complaints.parts_asked_for([one, two]) == {"BATTERY": ("T-1", "T-2")}


def test_the_minutes_of_looking_are_those_until_it_works_less_the_repair(
    bench: Bench,
) -> None:
    (answer,) = bench.asking.outlines([Complaint(text="no battery", model="Tern 13")])
    causes = complaints.believed(answer)
    machine = complaints.waiting("T-1", answer, causes, str)

    assert [cause.belief for cause in causes] == sorted(
        (cause.belief for cause in causes), reverse=True
    )
    assert answer.next_step
    repair = sum(cause.belief * cause.minutes for cause in causes if cause.fix)
    assert machine.look == pytest.approx(
        max(answer.next_step.expected_minutes - repair, answer.next_step.minutes, 1.0)
    )


def test_a_cause_that_is_hardly_believed_is_not_reckoned_with(
    stock_bench: Bench,
) -> None:
    answer = stock_bench.asking.search("no battery", limit=3)
    causes = [cause for entry in answer.entries for cause in entry.causes]
    likely = {
        cause.cause for cause in causes if cause.probability >= complaints.LEAST_BELIEF
    }
    (outline,) = stock_bench.asking.outlines([Complaint(text="no battery", limit=3)])
    believed = complaints.believed(outline)

    assert len(likely) < len(causes)
    assert {cause.name for cause in believed} <= likely
    assert len(believed) == min(len(likely), complaints.MOST_CAUSES)


def answered(kind: Literal["test", "fix"] = "fix", until: float = 40.0) -> Outline:
    """A worn pack is believed with .6 and a cable with .1, which ask for the battery, a loose plug with .2."""
    plug = Fix(text="push it in", causes=("plug",), minutes=5.0)
    believed = (
        ("pack", 0.6, FIX),
        ("cable", 0.1, FIX),
        ("plug", 0.2, plug),
        ("none", 0.05, None),
    )
    causes = tuple(
        OutlinedCause(f"no-battery/{name}", belief, fix)
        for name, belief, fix in believed
    )
    step = Step(
        kind=kind,
        title="",
        minutes=10,
        expected_minutes=until,
        why="",
        entry="no-battery",
        name="pack",
    )
    return Outline(causes=causes, next_step=step)


def test_a_part_that_the_answer_proposes_mends_as_likely_as_the_causes_are_believed_that_ask_for_it() -> (
    None
):
    machine = complaints.wanting("T-1", "battery", 14.0, str.upper, answered())

    assert machine.ready
    assert [
        (one.cause, round(one.belief, 9), one.minutes, one.part)
        for one in machine.remedies
    ] == [
        ("wants battery", 0.7, 14.0, "BATTERY"),
        ("no-battery/plug", 0.2, 5.0, ""),
    ]
    assert machine.look == pytest.approx((40 - 14 - 0.2 * 5) / 0.3)
    assert (
        complaints.wanting("T-1", "battery", 14.0, str, answered(until=10.0)).look
        == complaints.FIRST_LOOK
    )
    ready = complaints.fitting("T-1", "battery", 9.0, str, answered())
    assert [(one.belief, one.part) for one in ready.remedies] == [
        (pytest.approx(0.7), ""),
        (0.2, ""),
    ]


@pytest.mark.parametrize("answer", [None, answered("test"), Outline(causes=())])
def test_a_part_that_nothing_proposes_is_one_that_a_person_is_sure_of(
    answer: Outline | None,
) -> None:
    for machine in (
        complaints.wanting("T-1", "battery", 14.0, str, answer),
        complaints.fitting("T-1", "battery", 14.0, str, answer),
        complaints.wanting("T-1", "fan", 14.0, str, answered()),
    ):
        assert (machine.known, [one.belief for one in machine.remedies]) == (
            True,
            [1.0],
        )
