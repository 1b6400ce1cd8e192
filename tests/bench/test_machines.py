"""The desk for machines: looked up by tag however it is written, in states that follow from the records alone."""

from __future__ import annotations

import pytest

from kb.bench.front import Bench
from kb.bench.machines import NoMachine
from kb.history import kinds
from kb.machines.units import FloorState, NextStep
from kb.model import Confirmation

TAG = "P7-012"
PLUG = "no-battery/plug"


def came_in(bench: Bench, tag: str = TAG, **told: str) -> None:
    bench.machines.write(kinds.UNIT_IN, {"tag": tag, "model": "Tern 13", "lot": "P7", **told})


def state(bench: Bench) -> tuple[str, str]:
    stands = bench.machines.machine(TAG).stands
    return stands.state.value, stands.step.value


def test_a_tag_is_found_however_it_is_written(bench: Bench) -> None:
    came_in(bench)

    for written in ("P7-012", "p7-012", " p7 - 012 "):
        assert bench.machines.unit(written).tag == TAG
    with pytest.raises(NoMachine, match="no record names a machine P7-013"):
        bench.machines.unit("P7-013")
    with pytest.raises(NoMachine):
        bench.machines.unit(" ")


def test_a_machine_goes_through_its_states_by_its_records_alone(bench: Bench) -> None:
    came_in(bench)
    assert state(bench) == ("waiting", "first look")
    bench.machines.correct(TAG, {"words": "no battery"})
    assert state(bench) == ("waiting", "find the fault")
    job = bench.jobs.begin("no battery", "Tern 13", TAG)
    assert state(bench) == ("on the bench", "go on with its job")
    bench.machines.want(TAG, "battery", job)
    assert state(bench) == ("waiting for a part", "get the part")
    bench.jobs.confirm(Confirmation(PLUG, job=job, part="battery", by="AW"))
    assert state(bench) == ("to be checked", "check-out")
    bench.machines.write(kinds.SIGNED, {"tag": TAG, "by": "JT"})
    assert state(bench) == ("ready", "hand over")
    sold = bench.machines.let_go(TAG, "sold", 12000)
    assert state(bench) == ("gone", "nothing")
    bench.machines.strike(sold.id, "wrong machine")
    assert state(bench) == ("ready", "hand over")
    bench.machines.give_up(TAG, "needed for P7-003")
    assert state(bench) == ("donor", "take parts")


def test_first_looks_leave_a_machine_with_a_complaint_waiting(bench: Bench) -> None:
    came_in(bench, words="no battery")
    for line in bench.machines.arrival_lines():
        bench.machines.write(kinds.FUNCTION, {"tag": TAG, "line": line.name, "shown": "good"})
    assert state(bench) == ("waiting", "find the fault")

    bench.machines.write(kinds.FUNCTION, {"tag": TAG, "line": "every-key", "shown": "good"})

    assert state(bench) == ("to be checked", "check-out")


def test_a_machine_without_complaint_that_was_looked_at_goes_to_the_check_out(bench: Bench) -> None:
    came_in(bench)
    bench.machines.write(kinds.FUNCTION, {"tag": TAG, "line": "pack-flat", "shown": "good"})

    assert state(bench) == ("to be checked", "check-out")


def test_a_failed_line_is_what_comes_next(bench: Bench) -> None:
    came_in(bench)
    bench.machines.write(kinds.FUNCTION, {"tag": TAG, "line": "every-key", "shown": "bad"})

    stands = bench.machines.machine(TAG).stands

    assert (stands.step, stands.todo) == (NextStep.DIAGNOSE, "Find what is behind the failed every-key.")


def test_a_lot_counts_its_machines_and_its_way_ends_where_they_do(bench: Bench) -> None:
    bench.machines.write(kinds.LOT, {"lot": "P7", "cents": 86400, "claimed": 4, "seller": "Somebody (invented)"})
    for number in range(4):
        came_in(bench, f"P7-{number}", words="no battery")
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="p7-1"))
    bench.machines.let_go("P7-2", "waste")
    bench.machines.give_up("P7-3", "board dead")

    lot = bench.machines.lot("p7 ")

    assert (lot.name, lot.told.cents, lot.came_in) == ("P7", 86400, 4)
    assert {state: n for state, n in lot.states.items() if n} == {
        FloorState.WAITING: 1, FloorState.CHECK: 1, FloorState.GONE: 1, FloorState.DONOR: 1,
    }  # fmt: skip
    assert [(drop.step, drop.reached) for drop in lot.way] == [
        ("came in", 4), ("looked at", 3), ("repaired", 2), ("ready", 1), ("gone", 1),
    ]  # fmt: skip
    assert [one.name for one in bench.machines.lots()] == ["P7"]


def test_what_is_written_of_a_machine_that_nobody_knows_is_refused(bench: Bench) -> None:
    with pytest.raises(NoMachine):
        bench.machines.note("P9-001", "lid scratched")
    assert bench.history().tip().count == 0


def test_a_machine_whose_only_record_was_struck_is_gone_from_every_list(bench: Bench) -> None:
    wrong = bench.machines.write(kinds.UNIT_IN, {"tag": "P7-999", "model": "Tern 13", "lot": "P7"})
    bench.machines.strike(wrong.id, "typed twice")

    assert bench.machines.units() == ()
    with pytest.raises(NoMachine):
        bench.machines.unit("P7-999")
