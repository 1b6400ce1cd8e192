"""Buying: purchases written down once, and a piece that came goes to the machine that has waited longest."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.donating import LIST, keyless_floor
from helpers.floors import came_in
from helpers.visiting import Visitor

from kb.base.trouble import NotThere, Refusal
from kb.bench.front import Bench
from kb.library.shelf import digest
from kb.machines.parts_told import Purchase
from webui.app import create_app


@pytest.fixture
def floor(tmp_path: Path) -> Iterator[Bench]:
    bench = keyless_floor(tmp_path / "shop")
    yield bench
    bench.close()


def test_a_list_is_written_down_once_and_a_look_at_it_writes_nothing(
    floor: Bench,
) -> None:
    before = digest((floor.folder / "history.db").read_bytes().hex())
    assert len(floor.buying.read(LIST).buying) == 1
    assert digest((floor.folder / "history.db").read_bytes().hex()) == before

    assert len(floor.buying.take_in(LIST).buying) == 1
    again = floor.buying.take_in(LIST)
    assert (len(again.buying), len(again.known)) == (0, 1)
    assert [
        (one.purchase, one.count, one.cents) for one in floor.parts.told().purchases
    ] == [("4711", 3, 3000)]


def test_pieces_go_to_machines_of_the_model_by_how_long_they_have_waited_and_the_rest_to_the_drawer(
    floor: Bench,
) -> None:
    floor.buying.take_in(LIST)
    first = floor.buying.came("4711", 1)
    rest = floor.buying.came("4711")

    assert ([one.line.tag for one in first.units], first.rest) == (["P7-02"], 0)
    assert ([one.line.tag for one in rest.units], rest.rest) == (["P7-01"], 1)
    assert floor.machines.unit("P7-02").wanted == ()
    assert (
        floor.machines.machine("P7-02").stands.todo
        == "Fit the keyboard that came for it."
    )
    assert floor.machines.unit("P7-03").wanted != ()
    looked = {one.tag: (one.turn, one.chance) for one in floor.pile.view("P7").outlooks}
    assert looked["P7-01"][1] == looked["P7-02"][1] == 1
    assert looked["P7-03"][0] == "part"
    with pytest.raises(Refusal, match="all pieces of 4711 came already"):
        floor.buying.came("4711")


def test_a_piece_goes_first_to_the_machine_it_was_bought_for_and_to_models_that_it_fits(
    floor: Bench,
) -> None:
    for _ in range(3):
        floor.parts.tried("keyboard", "Tern 13", "Skua 14", shown="worked")
    told = Purchase(
        purchase="B1",
        part="keyboard",
        model="Tern 13",
        count=3,
        cents=3000,
        tag="P7-01",
        at="2026-03-02",
    )
    floor.buying.buy(told)

    assert [one.line.tag for one in floor.buying.came("b1").units] == [
        "P7-01",
        "P7-02",
        "P7-03",
    ]


def test_the_same_tap_twice_is_one_arrival_and_more_than_was_bought_cannot_come(
    floor: Bench,
) -> None:
    floor.buying.take_in(LIST)
    with pytest.raises(
        Refusal, match="4 pieces of 4711 cannot come; 3 of 3 are on the way"
    ):
        floor.buying.came("4711", 4)
    with pytest.raises(NotThere, match="no purchase 4712"):
        floor.buying.came("4712")
    floor.buying.came("4711", token="a" * 32)
    floor.buying.came("4711", token="a" * 32)

    assert floor.parts.told().purchases[0].came == 3


def test_a_list_of_what_came_long_ago_ends_nobodys_wait_and_tells_how_long_parts_take(
    floor: Bench,
) -> None:
    floor.buying.take_in(
        "part,model,total,bought,came\nkeyboard,Tern 13,9.00,2024-03-01,2024-03-06\n"
    )

    assert floor.parts.told().days("keyboard") == 5
    assert floor.parts.told().on_the_way == ()
    assert {unit.line.tag for unit in floor.machines.units() if unit.line.wanted} == {
        "P7-01",
        "P7-02",
        "P7-03",
    }


def test_a_struck_arrival_lets_the_machine_wait_again(floor: Bench) -> None:
    floor.buying.take_in(LIST)
    floor.buying.came("4711", 1)
    floor.machines.strike(
        floor.machines.unit("P7-02").pieces[0].record, "it was another box"
    )

    assert [one.part for one in floor.machines.unit("P7-02").wanted] == ["keyboard"]
    assert floor.parts.told().on_the_way[0].came == 0


def test_purchases_are_pasted_on_the_page_and_a_piece_that_came_says_for_whom(
    floor: Bench,
) -> None:
    visitor = Visitor(create_app(floor))
    visitor.go("/parts")
    assert (
        "1 purchase would be written down"
        in visitor.press("Look through it", text=LIST).text
    )
    assert "1 purchase is written down" in visitor.press("Write them down").text
    visitor.go("/parts")
    assert "For P7-02" in visitor.press("It is here").text
    assert "Nothing is on the way" in visitor.go("/parts").text
    assert "P7-01,next" in visitor.go("/pile.csv?lot=P7").html
    assert visitor.go("/parts.csv").html.startswith("part,model,machines")


def test_what_was_bought_for_a_machine_is_for_it_when_it_comes_though_nobody_said_that_it_waits(
    floor: Bench,
) -> None:
    came_in(floor, "P7-09", words="no battery")
    floor.buying.take_in("part,model,count,total,for\nbattery,Tern 13,2,70.01,P7-09\n")

    came = floor.buying.came("B-001")

    assert ([one.line.tag for one in came.units], came.rest) == (["P7-09"], 1)
    assert floor.machines.unit("P7-09").to_fit == ("battery",)


def test_what_was_bought_for_a_machine_that_has_left_goes_to_the_drawer(
    floor: Bench,
) -> None:
    came_in(floor, "P7-09", words="no battery")
    floor.buying.take_in("part,model,count,total,for\nbattery,Tern 13,1,35.00,P7-09\n")
    floor.machines.let_go("P7-09", "sold")

    came = floor.buying.came("B-001")

    assert (came.units, came.rest) == ((), 1)
