"""Returns: what had left stands here again, and what was entered by mistake counts no more."""

from __future__ import annotations

import pytest
from helpers.floors import PLUG, came_in

from kb.base.trouble import Refusal
from kb.bench.cost import PaidForLot
from kb.bench.front import Bench
from kb.bench.machines import NoMachine
from kb.bench.returns import come_back, never_came
from kb.machines.units import FloorState
from kb.model import Confirmation


def test_a_machine_that_was_sold_and_comes_back_is_on_the_bench_with_its_job_and_works_no_more(
    bench: Bench,
) -> None:
    came_in(bench)
    bench.machines.let_go("P7-001", "sold", 12000)
    assert bench.cost.lot("P7").works == 1

    job = come_back(bench, "p7-001", "switches off after ten minutes", token="3f9a")

    assert (
        come_back(bench, "p7-001", "switches off after ten minutes", token="3f9a")
        == job
    )
    stands = bench.machines.machine("P7-001").stands
    assert (stands.state, stands.line.open_jobs) == (FloorState.BENCH, (job,))
    assert (bench.cost.lot("P7").works, bench.cost.lot("P7").open) == (0, 1)
    with pytest.raises(Refusal, match="has not left the shop"):
        come_back(bench, "P7-001")


def test_a_machine_that_was_let_go_by_mistake_stands_where_it_stood(
    bench: Bench,
) -> None:
    came_in(bench)
    before = bench.machines.machine("P7-001").stands.state
    bench.machines.let_go("P7-001", "waste")

    assert come_back(bench, "P7-001") == ""

    assert bench.machines.machine("P7-001").stands.state is before


def test_a_machine_that_was_entered_twice_is_taken_out_of_the_lot_and_its_cost_and_its_tag_is_free(
    bench: Bench,
) -> None:
    for tag in ("P7-001", "P7-002"):
        came_in(bench, tag)
    bench.cost.bought("P7", PaidForLot(paid="90"))
    bench.arrivals.look_at("P7-002", {"screen": "good"})
    bench.machines.move("P7-002", "B1")

    never_came(bench, "P7-002", token="77aa")

    never_came(bench, "P7-002", token="77aa")
    assert [one.line.tag for one in bench.machines.units("P7")] == ["P7-001"]
    assert bench.cost.costs().unit("P7-001").share == 9000
    with pytest.raises(NoMachine):
        bench.machines.unit("P7-002")
    came_in(bench, "P7-002")
    assert bench.machines.unit("P7-002").place == ""


def test_a_machine_that_was_worked_on_was_here_and_is_not_taken_out(
    bench: Bench,
) -> None:
    came_in(bench)
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="P7-001"))

    with pytest.raises(Refusal, match="it was here"):
        never_came(bench, "P7-001")


def test_what_another_bench_let_go_meanwhile_is_not_given_up_or_sold_once_more(
    bench: Bench,
) -> None:
    came_in(bench)
    first = bench.machines.let_go("P7-001", "sold", 12000, token="3f9a")

    assert bench.machines.let_go("P7-001", "sold", 12000, token="3f9a") == first
    desk = bench.machines
    for deed, told in (
        (desk.give_up, "hinge"),
        (desk.let_go, "waste"),
        (desk.want, "battery"),
        (desk.hand_over, "AW"),
    ):
        with pytest.raises(Refusal, match="has left the shop"):
            deed("P7-001", told)
    come_back(bench, "P7-001")
    bench.machines.give_up("P7-001", "hinge")
