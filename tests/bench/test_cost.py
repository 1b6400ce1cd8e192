"""The desk of costs: a bid is the same each time, and all figures follow the records."""

from __future__ import annotations

import pytest
from helpers.paid import pallet

from kb.base.trouble import Refusal, Trouble
from kb.bench.cost import PaidForLot
from kb.bench.front import Bench
from kb.library.customs import FOLDER, MACHINE


def test_a_bid_needs_machines_that_are_done_and_is_the_same_each_time(
    bench: Bench,
) -> None:
    with pytest.raises(Refusal, match="no machine is done yet"):
        bench.cost.bid("model,count,sale\nTern 13,12,90\n")
    pallet(bench)

    once, again = (
        bench.cost.bid("model,count,sale\nTern 13,12,90\n", freight_cents=6400)
        for _ in range(2)
    )

    assert once == again
    assert once.low <= once.holds <= once.median <= once.high
    assert once.unseen == ()


def test_a_bid_names_the_models_of_which_none_was_done_here(bench: Bench) -> None:
    pallet(bench)

    found = bench.cost.bid("model,count,sale\nTern 13,12,90\nCurlew 11,3,90\n")

    assert found.unseen == ("Curlew 11",)


def test_costs_follow_records_settings_and_house_lists_and_are_reckoned_once_in_between(
    bench: Bench,
) -> None:
    pallet(bench)
    first = bench.cost.costs()
    assert bench.cost.costs() is first
    bench.shop.kept_settings.set_money(7200)
    assert bench.cost.costs().unit("P1-1").work == 2400
    bench.machines.let_go("P1-2", "waste")
    assert bench.cost.costs().lots[0].open == 0
    machine = bench.shop.customs.path(MACHINE).read_text()
    own = bench.folder / "entries" / FOLDER / MACHINE
    own.parent.mkdir(parents=True)
    own.write_text(machine.replace("weight 15", "weight 5"))
    assert bench.cost.costs().unit("P1-3").cents > first.unit("P1-3").cents


def test_what_was_paid_for_a_lot_is_written_down_corrected_and_counted(
    bench: Bench,
) -> None:
    bench.arrivals.take_in("tag,model\nH-1,Tern 13\nH-2,Tern 13\n", "H")
    assert bench.cost.lot("H").cost.cents == 0

    bench.cost.bought(
        "h", PaidForLot(paid="80", freight="10,50", seller="Somebody (invented)")
    )
    bench.cost.bought("H", PaidForLot(paid="90.00"))

    assert bench.cost.lot("H").cost.cents == 10050
    assert [lot.name for lot in bench.machines.lots()] == ["H"]
    assert bench.machines.lot("H").told.seller == "Somebody (invented)"
    for lot, told, problem in (
        ("H", PaidForLot(), "nothing was said"),
        ("H", PaidForLot(paid="much"), "is no sum of money"),
        ("Q", PaidForLot(paid="90"), "no machine came in a lot Q"),
    ):
        with pytest.raises(Trouble, match=problem):
            bench.cost.bought(lot, told)
