"""Lots, counted by where their machines are."""

from __future__ import annotations

from helpers.tagged import PLUG, came_in

from kb.bench.front import Bench
from kb.history import kinds
from kb.machines.units import FloorState
from kb.model import Confirmation


def test_a_lot_counts_its_machines_and_its_way_ends_where_they_do(bench: Bench) -> None:
    bench.machines.write(
        kinds.LOT,
        {"lot": "P7", "cents": 86400, "claimed": 4, "seller": "Somebody (invented)"},
    )
    for number in range(4):
        came_in(bench, f"P7-{number}", words="no battery")
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="p7-1"))
    bench.machines.let_go("P7-2", "waste")
    bench.machines.give_up("P7-3", "board dead")

    lot = bench.machines.lot("p7 ")

    assert (lot.name, lot.told.cents, lot.came_in) == ("P7", 86400, 4)
    assert {state: n for state, n in lot.states.items() if n} == {
        FloorState.WAITING: 1,
        FloorState.CHECK: 1,
        FloorState.GONE: 1,
        FloorState.DONOR: 1,
    }
    assert [(drop.step, drop.reached) for drop in lot.way] == [
        ("came in", 4),
        ("looked at", 3),
        ("repaired", 2),
        ("ready", 1),
        ("gone", 1),
    ]
    assert [one.name for one in bench.machines.lots()] == ["P7"]
