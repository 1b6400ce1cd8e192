"""Parts at hand: a donor that has one is named where a repair asks for it, and one tap takes it for both machines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.donating import flat_floor, flat_job
from helpers.visiting import Visitor

from kb.base.trouble import Refusal
from kb.bench.at_hand import CameForIt, at_hand, came_for, told_at_hand
from kb.bench.front import Bench
from kb.machines.cost.from_records import ShopRates, moves_told
from kb.machines.cost.moves import PartOut, PieceUsed
from kb.machines.parts_told import Purchase
from kb.model import Confirmation
from webui.app import create_app


@pytest.fixture
def floor(tmp_path: Path) -> Iterator[Bench]:
    bench = flat_floor(tmp_path / "shop")
    yield bench
    bench.close()


def bought(bench: Bench) -> None:
    told = Purchase(
        purchase="B1",
        part="battery",
        model="Tern 13",
        count=1,
        cents=1500,
        tag="",
        at="2026-03-02",
    )
    bench.buying.buy(told)


def test_a_donor_its_place_the_price_and_who_else_waits_are_told_in_a_row(
    floor: Bench,
) -> None:
    (found,) = at_hand(floor, ["battery"], "Tern 13", "P7-01")
    assert (
        told_at_hand(found, "EUR")
        == "A donor on A7 has one: P7-03. Also wanted by P7-02."
    )

    bought(floor)
    (found,) = at_hand(floor, ["battery"], "Tern 13", "P7-01")
    assert told_at_hand(replace(found, days=5), "EUR").startswith(
        "A donor on A7 has one: P7-03. Or buy: 15.00 EUR, ab"
    )


def test_nothing_is_told_without_a_donor_or_a_purchase_nor_of_a_model_that_nobody_knows(
    floor: Bench,
) -> None:
    assert at_hand(floor, ["battery"], "unknown") == ()
    assert at_hand(floor, ["battery"], "Skua 14") == ()
    floor.machines.give_up("P7-03", "kept", back=True)
    assert not floor.asking.has_parts()
    assert at_hand(floor, ["battery"], "Tern 13") == ()
    bought(floor)
    (found,) = at_hand(floor, ["battery"], "Tern 13")
    assert told_at_hand(found, "") == "To buy: 15.00. Also wanted by P7-02."


def test_without_a_donor_no_desk_of_parts_is_asked(
    floor: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    floor.machines.give_up("P7-03", "kept", back=True)
    monkeypatch.delattr("kb.bench.parts.PartsDesk.who_has")

    assert at_hand(floor, ["battery"], "Tern 13", "P7-01") == ()


def test_one_tap_on_the_sheet_takes_the_part_and_both_machines_show_it(
    floor: Bench,
) -> None:
    visitor = Visitor(create_app(floor))
    page = visitor.go("/entry/no-battery?model=Tern+13&unit=P7-01")
    assert "A donor on A7 has one: P7-03." in page.text
    page = visitor.press("Taken from")

    assert "battery It is here." in page.text
    assert [one.part for one in floor.machines.unit("P7-03").moved] == ["battery"]
    assert floor.machines.unit("P7-01").to_fit == ("battery",)


def test_the_step_of_a_job_names_the_donor_and_takes_its_part_in_one_tap(
    floor: Bench,
) -> None:
    job = flat_job(floor)
    visitor = Visitor(create_app(floor))
    page = visitor.go(f"/job/{job}")
    assert "A donor on A7 has one: P7-03." in page.text
    assert "It is here." in visitor.press("Taken from").text
    assert visitor.page.status == 200


def test_a_part_that_was_taken_and_then_named_on_the_job_left_its_donor_once(
    floor: Bench,
) -> None:
    floor.parts.take("P7-03", "battery", "P7-01")
    given = Confirmation(
        "no-battery/pack", model="Tern 13", unit="P7-01", part="battery", donor="P7-03"
    )
    floor.jobs.confirm(given)

    assert [one.part for one in floor.machines.unit("P7-03").moved] == ["battery"]
    moves = moves_told(floor.history().records_since(), {}, ShopRates()).moves
    assert [one for one in moves if isinstance(one, PartOut)] == [
        PartOut("p7-03", "battery", "p7-01")
    ]


def test_a_part_from_a_donor_is_not_taken_out_of_the_drawer_where_the_job_names_no_donor(
    floor: Bench,
) -> None:
    bought(floor)
    floor.parts.take("P7-03", "battery", "P7-01")
    floor.jobs.confirm(
        Confirmation("no-battery/pack", model="Tern 13", unit="P7-01", part="battery")
    )

    assert not [
        one
        for one in moves_told(floor.history().records_since(), {}, ShopRates()).moves
        if isinstance(one, PieceUsed)
    ]


def test_what_lies_in_the_drawer_is_named_before_a_donor_and_taken_with_one_tap(
    floor: Bench,
) -> None:
    floor.parts.take("P7-03", "battery")  # out of its donor, for nobody yet
    (found,) = at_hand(floor, ["battery"], "Tern 13", "P7-01")
    assert (
        told_at_hand(found, "EUR")
        == "One is in the drawer, from P7-03. Also wanted by P7-02."
    )

    visitor = Visitor(create_app(floor))
    visitor.go("/entry/no-battery?model=Tern+13&unit=P7-01")
    assert "battery It is here." in visitor.press("Taken out of the drawer").text
    assert floor.machines.unit("P7-01").to_fit == ("battery",)
    assert [(one.part, one.tag) for one in floor.machines.unit("P7-03").moved] == [
        ("battery", "P7-01")
    ]
    assert floor.parts.told().drawer == ()


def test_pieces_that_came_lie_in_the_drawer_until_they_are_taken_or_a_job_used_one(
    floor: Bench,
) -> None:
    floor.machines.strike(floor.machines.unit("P7-02").wanted[0].record, "it has one")
    told = Purchase(
        purchase="B1",
        part="battery",
        model="Tern 13",
        count=3,
        cents=4500,
        tag="",
        at="2026-03-02",
    )
    floor.buying.buy(told)
    assert floor.parts.told().drawer == ()
    floor.buying.came("B1")
    (laid_in,) = floor.parts.told().drawer
    assert (laid_in.count, laid_in.model, floor.parts.piece_goodness(laid_in)) == (
        3,
        "Tern 13",
        1.0,
    )

    taken = floor.parts.take_piece(laid_in.record, "P7-01", "t" * 30)
    assert floor.parts.take_piece(laid_in.record, "P7-01", "t" * 30) == taken
    assert floor.machines.unit("P7-01").to_fit == ("battery",)
    assert [one.count for one in floor.parts.told().drawer] == [2]
    floor.jobs.confirm(
        Confirmation("no-battery/pack", model="Tern 13", unit="P7-01", part="battery")
    )
    assert [one.count for one in floor.parts.told().drawer] == [2]
    floor.jobs.confirm(
        Confirmation("no-battery/pack", model="Tern 13", unit="P7-02", part="battery")
    )
    assert [one.count for one in floor.parts.told().drawer] == [1]
    assert [one.came for one in floor.parts.told().purchases] == [3]


def test_a_piece_in_the_drawer_is_building_material_and_leaves_it_with_the_machine_that_is_built(
    floor: Bench,
) -> None:
    parts = [
        part.name for part in floor.shop.customs.complete_machine().parts("Tern 13")
    ]
    built = floor.pile.view().assembly.machines
    assert [one.tags for one in built] == [("P7-03",)]
    floor.parts.take("P7-03", parts[0], good="yes")

    (machine,) = floor.pile.view().assembly.machines
    assert machine.tags == ("P7-03", "drawer P7-03")
    tag = floor.pile.build("Tern 13")
    assert floor.parts.told().drawer == ()
    assert sorted(one.part for one in floor.machines.unit(tag).moved) == sorted(parts)


def test_a_machine_that_wants_what_lies_in_the_drawer_is_next_on_the_pile(
    floor: Bench,
) -> None:
    floor.parts.take("P7-03", "battery")
    floor.machines.give_up("P7-03", "kept", back=True)

    steps = {one.tag: one for one in floor.pile.view(hours=8).outlooks}

    assert steps["P7-02"].chance > 0.8
    assert any(
        donor.tag == "drawer P7-03, battery"
        for donor in floor.pile.view(hours=8).pile.donors
    )


def test_two_who_reach_for_one_piece_do_not_both_get_it(floor: Bench) -> None:
    record = floor.parts.take("P7-03", "battery").id
    floor.parts.take_piece(record, "P7-01")

    with pytest.raises(Refusal, match="in the drawer no more"):
        floor.parts.take_piece(record, "P7-02")


def test_what_came_for_a_machine_is_filled_in_where_its_fix_is_confirmed(
    floor: Bench,
) -> None:
    assert (
        came_for(floor, ["battery"], "P7-01")
        == came_for(floor, ["battery"], "P9-99")
        == CameForIt()
    )
    floor.parts.take("P7-03", "battery", "P7-01")
    assert came_for(floor, ["battery cable", "battery"], "p7-01") == CameForIt(
        "battery", "P7-03"
    )
    assert came_for(floor, ["battery cable"], "P7-01") == CameForIt()

    visitor = Visitor(create_app(floor))
    form = visitor.go("/confirm?cause=no-battery/pack&model=Tern+13&unit=P7-01").forms[
        0
    ]
    assert (form.fields["part"], form.fields["donor"]) == ("battery", "P7-03")
    assert visitor.press("Save").status == 200
    assert (visitor.page.text.count("P7-03"), floor.machines.unit("P7-01").to_fit) == (
        1,
        (),
    )
    form = visitor.go("/confirm?cause=no-battery/pack&model=Tern+13&unit=P7-02").forms[
        0
    ]
    assert form.fields["donor"] == ""


def a_battery_came(floor: Bench) -> None:
    """One that was bought for P7-02, by post."""
    floor.buying.buy(
        Purchase(
            purchase="B1",
            part="battery",
            model="Tern 13",
            count=1,
            cents=1500,
            tag="P7-02",
            at="",
        )
    )
    floor.buying.came("B1")


def test_a_part_that_came_by_post_is_filled_in_without_a_donor(floor: Bench) -> None:
    a_battery_came(floor)

    assert came_for(floor, ["battery"], "P7-02") == CameForIt("battery", "")


def test_a_dead_part_of_a_donor_is_not_the_one_that_came_by_post_after_it(
    floor: Bench,
) -> None:
    floor.parts.take("P7-03", "battery", "P7-02")
    floor.parts.turned_out("battery", "P7-02", "was dead")
    a_battery_came(floor)

    assert came_for(floor, ["battery"], "P7-02") == CameForIt("battery", "")
