"""Money out of records: a small pallet, reckoned by hand, at the desk, the terminal and the pages."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result
from helpers.paid import CAUSE, pallet
from helpers.places import CORPUS
from helpers.visiting import Visitor

from kb.base.trouble import Refusal
from kb.bench.front import Bench
from kb.history import kinds
from kb.library import house
from kb.library.customs import FOLDER
from kb.model import Confirmation
from webui.app import create_app


def test_every_cent_of_a_small_pallet_is_where_it_was_reckoned_by_hand(bench: Bench) -> None:
    pallet(bench)
    costs = bench.cost.costs()

    assert costs.paid_in == 9000 + 1200 + 2500
    assert costs.books.standing == costs.paid_in
    # Of 30.00 on the donor the panel weighs 15 of 100 (entries/house/machine.md): 4.50 went with it.
    assert (costs.unit("P1-1").share, costs.unit("P1-1").parts, costs.unit("P1-1").work) == (3000, 2500 + 450, 1200)
    assert costs.unit("p1-3").cents == 3000 - 450
    (lot,) = costs.lots
    assert (lot.works, lot.lost, lot.open) == (1, 1, 1)
    assert lot.cost.cents == costs.paid_in
    assert costs.tied_up == 3000
    assert lot.is_forecast


def test_a_retracted_confirmation_and_a_struck_record_cost_nothing(bench: Bench) -> None:
    pallet(bench)
    bought = bench.machines.write(kinds.PART_BOUGHT, {"purchase": "B2", "part": "fan", "count": 2, "cents": 1000})
    assert bench.cost.costs().drawer == 1000
    bench.machines.strike(bought.id, "sent back")
    (job,) = bench.machines.unit("P1-1").jobs
    bench.jobs.retract(job.job, "wrong machine")
    costs = bench.cost.costs()

    assert costs.drawer == 0
    assert costs.unit("P1-1").cents == 3000 + 2500
    assert costs.unit("P1-3").cents == 3000


def test_a_part_of_which_there_are_two_leaves_twice_and_no_third_time(bench: Bench) -> None:
    pallet(bench)
    for receiver in ("P1-1", "P1-2", "P1-1"):
        bench.machines.write(kinds.PART_OUT, {"donor": "P1-3", "part": "memory module", "tag": receiver, "good": "yes"})
    costs = bench.cost.costs()

    assert len(costs.books.refused) == 1
    assert costs.books.standing == costs.paid_in


def test_a_part_from_the_drawer_goes_at_its_mean(bench: Bench) -> None:
    pallet(bench)
    bench.machines.write(kinds.PART_BOUGHT, {"purchase": "B2", "part": "fan", "count": 3, "cents": 1000})
    bench.jobs.confirm(Confirmation(CAUSE, model="Tern 13", unit="P1-2", part="fan"))
    costs = bench.cost.costs()

    assert costs.unit("P1-2").parts == 333
    assert costs.drawer == 667


def test_a_bid_needs_machines_that_are_done_and_is_the_same_each_time(bench: Bench) -> None:
    with pytest.raises(Refusal, match="no machine is done yet"):
        bench.cost.bid("model,count,sale\nTern 13,12,90\n")
    pallet(bench)

    once, again = (bench.cost.bid("model,count,sale\nTern 13,12,90\n", freight_cents=6400) for _ in range(2))

    assert once == again
    assert once.low <= once.holds <= once.median <= once.high


def test_the_command_says_what_the_desk_says(run: Callable[..., Result], tmp_path: Path) -> None:
    run("settings", "--hour", "36.00", "--currency", "eur")
    with_pallet = Bench(tmp_path / "shop", stock=CORPUS)
    pallet(with_pallet)
    with_pallet.close()
    (tmp_path / "offer.csv").write_text("model,count,sale\nTern 13,12,90\n")

    assert "tied up in machines not done: 30.00 EUR" in run("cost").stdout
    assert "paid 90.00, parts 25.00, work 12.00" in run("cost", "--lot", "p1").stdout
    assert '"tied_up": 3000' in run("cost", "--json").stdout
    assert "then nothing is lost in 8 of 10 cases" in run("cost", "--bid", "offer.csv", "--freight", "64").stdout
    assert "no machine came in a lot P9" in run("cost", "--lot", "P9", status=2).stderr
    assert "is no sum of money" in run("cost", "--bid", "offer.csv", "--freight", "much", status=1).stderr


def test_the_pages_show_the_same_sums(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "shop", stock=CORPUS)
    pallet(bench)
    visitor = Visitor(create_app(bench))
    page = visitor.go("/cost")

    assert "30.00 EUR" in page.text
    assert "forecast" in page.text
    refused = visitor.press("Reckon", page, offer="Tern 13, twelve")
    assert refused.status == 400
    assert "the offer has no column" in refused.text
    assert "Tern 13, twelve" in refused.html
    bid = visitor.press("Reckon", offer="model,count,sale\nTern 13,12,90", freight="64")
    assert "then nothing is lost in 8 of 10 cases" in bid.text
    assert "P1,P1-3,Tern 13,donor,3000,-450,0,2550" in visitor.go("/cost.csv").html
    bench.close()


def test_a_machine_that_only_a_closed_job_tells_of_ties_up_nothing(bench: Bench) -> None:
    pallet(bench)
    bench.jobs.confirm(Confirmation(CAUSE, model="Tern 13", unit="owner-1", minutes=60))

    assert bench.cost.costs().tied_up == 3000


def test_costs_follow_records_settings_and_house_lists_and_are_reckoned_once_in_between(bench: Bench) -> None:
    pallet(bench)
    first = bench.cost.costs()
    assert bench.cost.costs() is first
    bench.shop.kept_settings.set_money(7200)
    assert bench.cost.costs().unit("P1-1").work == 2400
    bench.machines.let_go("P1-2", "waste")
    assert bench.cost.costs().lots[0].open == 0
    machine = house.file_of(bench.shop.shelf, house.MACHINE).read_text()
    own = bench.folder / "entries" / FOLDER / house.MACHINE
    own.parent.mkdir(parents=True)
    own.write_text(machine.replace("weight 15", "weight 5"))
    assert bench.cost.costs().unit("P1-3").cents > first.unit("P1-3").cents
