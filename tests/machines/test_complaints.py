"""Complaints of machines: what their causes make believe of parts, minutes included."""

from __future__ import annotations

import pytest

from kb.bench.front import Bench
from kb.diagnosis.answering import Complaint
from kb.diagnosis.case import OPENING_MINUTES, PART_MINUTES
from kb.library.spread import Spread
from kb.machines import complaints
from kb.machines.complaints import BelievedCause
from kb.model import Fix

FIX = Fix(text="fit another", causes=("pack",), minutes=10.0, parts=("battery", "battery cable"), cover_off=True)
CAUSES = (BelievedCause("no-battery/pack", 0.6, FIX), BelievedCause("no-battery/none", 0.4, None))


def test_a_repair_takes_its_fix_the_part_and_the_cover() -> None:
    assert CAUSES[0].minutes == 10.0 + PART_MINUTES + OPENING_MINUTES
    assert CAUSES[1].minutes == 0.0


def test_a_fix_by_several_parts_suspects_all_of_them() -> None:
    (suspicion,) = complaints.suspicions(CAUSES, Spread())

    assert (suspicion.belief, suspicion.parts) == (0.6, ("battery", "battery cable"))


def test_what_spreads_makes_parts_doubtful_that_no_fix_asks_for() -> None:
    found = complaints.suspicions(CAUSES, Spread({"no-battery": ("keyboard",), "no-battery/pack": ("touchpad",)}))

    assert [(one.belief, one.parts, one.spreads) for one in found] == [
        (0.6, ("battery", "battery cable"), ("touchpad",)),
        (0.4, (), ("keyboard",)),
    ]


def test_a_cause_without_a_fix_is_no_remedy() -> None:
    (remedy,) = complaints.remedies(CAUSES, str.upper)

    assert (remedy.cause, remedy.part, remedy.suspects) == ("no-battery/pack", "BATTERY", ("BATTERY CABLE",))


def test_the_pools_that_machines_want_are_told_with_their_tags() -> None:
    one, two = (complaints.wanting(tag, "battery", 5.0, str.upper) for tag in ("T-1", "T-2"))

    assert complaints.parts_asked_for([one, two]) == {"BATTERY": ("T-1", "T-2")}


def test_the_minutes_of_looking_are_those_until_it_works_less_the_repair(bench: Bench) -> None:
    (answer,) = bench.asking.outlines([Complaint(text="no battery", model="Tern 13")])
    causes = complaints.believed(answer)
    machine = complaints.waiting("T-1", answer, causes, str)

    assert [cause.belief for cause in causes] == sorted((cause.belief for cause in causes), reverse=True)
    assert answer.next_step
    repair = sum(cause.belief * cause.minutes for cause in causes if cause.fix)
    assert machine.look == pytest.approx(max(answer.next_step.expected_minutes - repair, answer.next_step.minutes, 1.0))


def test_a_cause_that_is_hardly_believed_is_not_reckoned_with(stock_bench: Bench) -> None:
    answer = stock_bench.asking.search("no battery", limit=3)
    causes = [cause for entry in answer.entries for cause in entry.causes]
    likely = {cause.cause for cause in causes if cause.probability >= complaints.LEAST_BELIEF}
    (outline,) = stock_bench.asking.outlines([Complaint(text="no battery", limit=3)])
    believed = complaints.believed(outline)

    assert len(likely) < len(causes)
    assert {cause.name for cause in believed} <= likely
    assert len(believed) == min(len(likely), complaints.MOST_CAUSES)
