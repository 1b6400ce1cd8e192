"""The desk for parts: who has one, who may take it, and what is to be ordered."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from helpers.places import CORPUS

from kb.base.trouble import NotThere, Refusal
from kb.bench.front import Bench
from kb.bench.machines import MachineDesk
from kb.bench.parts import TurnedOut
from kb.history import kinds
from kb.history.units import Unit
from kb.machines.fits import fitting
from kb.machines.parts_told import PricePaid, Purchase


def test_a_donor_of_the_same_model_fits_and_one_of_another_is_unknown_until_it_is_tried(
    floor: Bench,
) -> None:
    found = floor.parts.who_has("keyboard", "Tern 13", besides="P7-02")
    assert [(one.source.tag, one.fitting.verdict) for one in found.offers] == [
        ("P7-04", "fits"),
        ("P7-05", "unknown"),
    ]

    floor.parts.tried("keyboard", "Skua 14", "Tern 13", shown="failed", why="ribbon")
    found = floor.parts.who_has("keyboard", "Tern 13", besides="P7-02")
    assert [one.source.tag for one in found.offers] == ["P7-04"]
    assert [(one.source.tag, one.fitting.reason) for one in found.did_not_fit] == [
        ("P7-05", "ribbon")
    ]


def test_a_part_leaves_a_donor_once_and_ends_the_wait_of_the_machine_that_gets_it(
    floor: Bench,
) -> None:
    floor.parts.take("p7-04", "keyboard", "P7-02")

    assert floor.machines.unit("P7-02").wanted == ()
    assert [one.part for one in floor.machines.unit("P7-04").moved] == ["keyboard"]
    with pytest.raises(Refusal, match="keyboard has left P7-04 already"):
        floor.parts.take("P7-04", "keyboard", "P7-01")
    assert [
        one.source.tag for one in floor.parts.who_has("keyboard", "Tern 13").offers
    ] == ["P7-05"]


def test_of_many_who_take_one_part_at_the_same_moment_one_gets_it(
    floor: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    look = MachineDesk.unit

    def slowly(desk: MachineDesk, tag: str) -> Unit:
        found = look(desk, tag)
        time.sleep(0.05)  # whoever comes meanwhile has to wait
        return found

    monkeypatch.setattr(MachineDesk, "unit", slowly)

    def take(_: int) -> bool:
        own = Bench(floor.folder, stock=CORPUS)
        try:
            own.parts.take("P7-04", "keyboard", "P7-02")
        except Refusal:
            return False
        finally:
            own.close()
        return True

    with ThreadPoolExecutor(6) as people:
        assert sum(people.map(take, range(6))) == 1


def test_a_donor_that_got_a_keyboard_itself_still_gives_one(floor: Bench) -> None:
    floor.parts.take("P7-05", "keyboard", "P7-04")
    floor.parts.take("P7-04", "keyboard", "P7-02")

    assert floor.machines.unit("P7-02").wanted == ()


def test_a_taking_that_is_sent_twice_is_one_taking(floor: Bench) -> None:
    once, again = (
        floor.parts.take("P7-04", "keyboard", "P7-02", token="a" * 32) for _ in range(2)
    )

    assert once == again


def test_a_struck_taking_brings_the_part_back(floor: Bench) -> None:
    record = floor.parts.take("P7-04", "keyboard", "P7-02")
    floor.machines.strike(record.id, "it stayed in")

    assert floor.parts.who_has("keyboard", "Tern 13").offers[0].source.tag == "P7-04"


def test_a_part_whose_line_showed_bad_is_hardly_offered(floor: Bench) -> None:
    before = floor.parts.who_has("keyboard", "Tern 13").offers[0].source.good
    floor.machines.write(
        kinds.FUNCTION, {"tag": "P7-04", "line": "every-key", "shown": "bad"}
    )
    after = next(
        one
        for one in floor.parts.who_has("keyboard", "Tern 13").offers
        if one.source.tag == "P7-04"
    )

    assert before > 0.9
    assert after.source.good < 0.2


def test_a_wanted_part_is_ordered_unless_a_donor_or_the_post_brings_it(
    floor: Bench,
) -> None:
    floor.machines.want("P7-01", "adapter lead")
    floor.buying.buy(
        Purchase(
            purchase="B1",
            part="adapter lead",
            model="Tern 13",
            count=1,
            cents=1500,
            tag="",
            at="2026-03-02",
        )
    )
    wanted = {one.part: one for one in floor.parts.wanted()}

    assert (wanted["keyboard"].donors, wanted["keyboard"].to_order) == (("P7-04",), 0)
    assert (wanted["adapter lead"].on_the_way, wanted["adapter lead"].price) == (
        1,
        PricePaid(1500),
    )
    assert wanted["adapter lead"].to_order == 0
    floor.buying.came("b1", 1)
    assert {one.part for one in floor.parts.wanted()} == {"keyboard"}


@pytest.mark.parametrize(
    ("shown", "verdict", "waits", "left"),
    [
        ("did not fit", "did not fit", True, False),
        ("was dead", "unknown", True, False),
        ("not the cause", "fits", False, False),
    ],
)
def test_why_a_part_did_not_help_speaks_against_the_fit_only_where_it_did_not_fit(
    floor: Bench, shown: TurnedOut, verdict: str, waits: bool, left: bool
) -> None:
    floor.parts.take("P7-05", "keyboard", "P7-02")
    floor.parts.turned_out("keyboard", "p7-02", shown, "ribbon", "b" * 30)
    floor.parts.turned_out("keyboard", "p7-02", shown, "ribbon", "b" * 30)

    known = fitting(floor.parts.told().tries.get("keyboard", ()), "Skua 14", "Tern 13")
    assert (known.verdict, known.reason) == (
        verdict,
        "ribbon" if verdict == "did not fit" else "",
    )
    assert bool(floor.machines.unit("P7-02").wanted) is waits
    found = floor.parts.who_has("keyboard", "Tern 13")
    assert (
        "P7-05" in {one.source.tag for one in (*found.offers, *found.did_not_fit)}
    ) is left


def test_of_a_part_that_nobody_took_nothing_turned_out(floor: Bench) -> None:
    with pytest.raises(Refusal, match="no donor gave a keyboard for P7-02"):
        floor.parts.turned_out("keyboard", "P7-02", "was dead")


def test_another_model_wants_the_same_piece_only_where_it_is_likely_to_fit(
    floor: Bench,
) -> None:
    floor.machines.want("P7-03", "keyboard")
    assert floor.parts.who_has("keyboard", "Tern 13", besides="P7-02").waiting == ()
    for _ in range(2):
        floor.parts.tried("keyboard", "Tern 13", "Skua 14", shown="worked")
    assert floor.parts.who_has("keyboard", "Tern 13", besides="P7-02").waiting == (
        "P7-03",
    )


def test_a_piece_on_the_way_is_told_once_and_not_to_models_that_it_is_not_known_to_fit(
    floor: Bench,
) -> None:
    floor.machines.write(
        kinds.UNIT_IN, {"tag": "P7-09", "model": "Godwit 13", "lot": "P7"}
    )
    for tag in ("P7-01", "P7-09"):
        floor.machines.want(tag, "adapter lead")
    floor.buying.buy(
        Purchase(
            purchase="B1",
            part="adapter lead",
            model="Tern 13",
            count=2,
            cents=3000,
            tag="",
            at="2026-03-02",
        )
    )

    def to_order() -> dict[str, tuple[int, int]]:
        leads = [one for one in floor.parts.wanted() if one.part == "adapter lead"]
        return {one.model: (one.on_the_way, one.to_order) for one in leads}

    assert to_order() == {"Tern 13": (2, 0), "Godwit 13": (0, 1)}

    floor.parts.tried("adapter lead", "Tern 13", "Godwit 13", shown="worked")
    floor.parts.tried("adapter lead", "Tern 13", "Godwit 13", shown="worked")
    assert to_order() == {"Tern 13": (1, 0), "Godwit 13": (1, 0)}


def test_a_slip_is_no_second_part_that_a_donor_could_give_once_more(
    floor: Bench,
) -> None:
    for deed in (
        lambda: floor.parts.take("P7-04", "keybord", "P7-02"),
        lambda: floor.parts.who_has("keybord", "Tern 13"),
    ):
        with pytest.raises(NotThere, match="did you mean `keyboard`"):
            deed()

    assert floor.machines.unit("P7-04").given == ()
    assert floor.parts.named("privacy shutter of brass") == "privacy shutter of brass"


def test_nothing_is_taken_out_of_a_machine_that_is_no_donor(floor: Bench) -> None:
    with pytest.raises(Refusal, match=r"P7-01 is no donor.*give it up"):
        floor.parts.take("P7-01", "panel", "P7-02")

    assert floor.machines.unit("P7-01").given == ()
