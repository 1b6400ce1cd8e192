"""What a lot costs, over the machines that work."""

from __future__ import annotations

from helpers.paid import pallet

from kb.bench.front import Bench
from kb.history import kinds


def test_a_lot_that_is_done_costs_all_of_it_over_the_machines_that_work(
    bench: Bench,
) -> None:
    pallet(bench)
    bench.machines.let_go("P1-2", "waste")
    lot = bench.cost.lot("p1")

    assert not lot.is_forecast
    assert lot.each
    assert lot.each.low == lot.each.cents == lot.each.high == 12700


def test_a_lot_is_one_lot_however_its_name_is_written(bench: Bench) -> None:
    pallet(bench)
    bench.machines.write(
        kinds.UNIT_IN, {"tag": "P1-4", "lot": "p1 ", "model": "Tern 13"}
    )
    (lot,) = bench.cost.costs().lots

    assert lot.machines == 4
    assert bench.cost.costs().unit("P1-4").share == 9000 // 4
    assert lot.cost.cents == bench.cost.costs().paid_in
