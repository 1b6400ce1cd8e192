"""Parts and the pile at their desks, terminal and pages: a small invented floor with donors, wanted parts and tries."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from click.testing import Result
from helpers.places import CORPUS
from helpers.visiting import Visitor

from kb.base.trouble import Refusal
from kb.bench.front import Bench
from kb.bench.machines import MachineDesk
from kb.history import kinds
from kb.history.units import Unit
from kb.library.shelf import digest
from kb.machines.parts_told import Purchase
from kb.model import Answer
from webui.app import create_app

FLOOR = (
    ("P7-01", "Tern 13", "no light when plugged in", "A1"),
    ("P7-02", "Tern 13", "row of keys dead", "A2"),
    ("P7-03", "Skua 14", "", "A3"),
    ("P7-04", "Tern 13", "board dead", "B1"),
    ("P7-05", "Skua 14", "board dead", "B2"),
)


@pytest.fixture
def floor(tmp_path: Path) -> Iterator[Bench]:
    bench = Bench(tmp_path / "shop", stock=CORPUS)
    for tag, model, words, place in FLOOR:
        told = {"tag": tag, "model": model, "words": words, "place": place, "lot": "P7"}
        bench.machines.write(kinds.UNIT_IN, told)
    bench.machines.give_up("P7-04", "board gone")
    bench.machines.give_up("P7-05", "board gone")
    bench.machines.want("P7-02", "keyboard")
    yield bench
    bench.close()


def test_a_donor_of_the_same_model_fits_and_one_of_another_is_unknown_until_it_is_tried(floor: Bench) -> None:
    found = floor.parts.who_has("keyboard", "Tern 13", besides="P7-02")
    assert [(one.source.tag, one.fitting.verdict) for one in found.offers] == [
        ("P7-04", "fits"),
        ("P7-05", "unknown"),
    ]

    floor.parts.tried("keyboard", "Skua 14", "Tern 13", shown="failed", why="ribbon")
    found = floor.parts.who_has("keyboard", "Tern 13", besides="P7-02")
    assert [one.source.tag for one in found.offers] == ["P7-04"]
    assert [(one.source.tag, one.fitting.reason) for one in found.did_not_fit] == [("P7-05", "ribbon")]


def test_a_part_leaves_a_donor_once_and_ends_the_wait_of_the_machine_that_gets_it(floor: Bench) -> None:
    floor.parts.take("p7-04", "keyboard", "P7-02")

    assert floor.machines.unit("P7-02").wanted == ()
    assert [one.part for one in floor.machines.unit("P7-04").moved] == ["keyboard"]
    with pytest.raises(Refusal, match="keyboard has left P7-04 already"):
        floor.parts.take("P7-04", "keyboard", "P7-01")
    assert [one.source.tag for one in floor.parts.who_has("keyboard", "Tern 13").offers] == ["P7-05"]


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
    once, again = (floor.parts.take("P7-04", "keyboard", "P7-02", token="a" * 32) for _ in range(2))

    assert once == again


def test_a_struck_taking_brings_the_part_back(floor: Bench) -> None:
    record = floor.parts.take("P7-04", "keyboard", "P7-02")
    floor.machines.strike(record.id, "it stayed in")

    assert floor.parts.who_has("keyboard", "Tern 13").offers[0].source.tag == "P7-04"


def test_a_part_whose_line_showed_bad_is_hardly_offered(floor: Bench) -> None:
    before = floor.parts.who_has("keyboard", "Tern 13").offers[0].source.good
    floor.machines.write(kinds.FUNCTION, {"tag": "P7-04", "line": "every-key", "shown": "bad"})
    after = next(one for one in floor.parts.who_has("keyboard", "Tern 13").offers if one.source.tag == "P7-04")

    assert before > 0.9
    assert after.source.good < 0.2


def test_a_wanted_part_is_ordered_unless_a_donor_or_the_post_brings_it(floor: Bench) -> None:
    floor.machines.want("P7-01", "adapter lead")
    floor.parts.buy(
        Purchase(purchase="B1", part="adapter lead", model="Tern 13", count=1, cents=1500, tag="", at="2026-03-02")
    )
    wanted = {one.part: one for one in floor.parts.wanted()}

    assert (wanted["keyboard"].donors, wanted["keyboard"].to_order) == (("P7-04",), 0)
    assert (wanted["adapter lead"].on_the_way, wanted["adapter lead"].price) == (1, 1500)
    assert wanted["adapter lead"].to_order == 0
    floor.parts.came("B1", 1)
    assert {one.part: one.on_the_way for one in floor.parts.wanted()}["adapter lead"] == 0


def test_the_pile_names_the_next_machine_and_who_wants_whose_parts(floor: Bench) -> None:
    view = floor.pile.view("p7", hours=8)
    turns = {one.tag: one.turn for one in view.outlooks}

    assert set(turns) == {"P7-01", "P7-02"}
    assert list(turns.values()).count("next") == 1
    assert view.unseen == ("P7-03",)
    assert 0 < view.forecast.working.expected <= 2
    assert {one.tag: one.wanted_by for one in view.outlooks}["P7-01"] == {"keyboard, Tern 13": ("P7-02",)}
    wanting = next(one for one in view.pile.waiting if one.tag == "P7-02")
    assert [(one.cause, one.belief) for one in wanting.remedies] == [("wants keyboard", 1.0)]
    assert {donor.tag for donor in view.pile.donors} == {"P7-04", "P7-05"}
    assert floor.pile.view("P8").outlooks == ()


def test_the_commands_say_what_the_desks_say(run: Callable[..., Result], tmp_path: Path, floor: Bench) -> None:
    told = json.loads(run("pile", "--lot", "P7", "--hours", "8", "--json").stdout)
    assert told["next"]["tag"] in ("P7-01", "P7-02")
    assert told["not_looked_at"] == ["P7-03"]
    assert "Next: " in run("pile", "--lot", "P7").stdout
    assert "Not looked at yet: P7-03" in run("pile", "--lot", "P7").stdout
    assert "keyboard for Tern 13: P7-02" in run("parts", "--wanted").stdout
    assert "1. P7-04 (Tern 13) at B1: fits: the same model" in run("parts", "keyboard", "--for", "P7-02").stdout
    assert "is taken from P7-04" in run("parts", "keyboard", "--for", "P7-02", "--take", "P7-04").stdout
    assert "has left P7-04 already" in run("parts", "keyboard", "--take", "P7-04", status=1).stderr
    assert "name a part" in run("parts", status=2).stderr
    assert "say which model" in run("parts", "fan", status=2).stderr
    assert "No machine with a complaint waits." in run("pile", "--lot", "P9", status=1).stdout


def test_on_the_pages_one_tap_takes_a_part(floor: Bench) -> None:
    visitor = Visitor(create_app(floor))
    page = visitor.go("/parts?part=keyboard&for=P7-02")
    assert "fits: the same model" in page.text
    page = visitor.press("Taken from")

    assert page.status == 200
    assert "P7-04" not in page.text.split("What machines wait for")[0]
    assert floor.machines.unit("P7-02").wanted == ()
    page = visitor.go("/pile?hours=8&money=15&lot=P7")
    assert "Next:" in page.text
    assert visitor.go("/pile?hours=many").status == 400


def test_a_line_that_showed_bad_on_several_other_models_counts_on_all_of_them(floor: Bench) -> None:
    for tag, model in (("P7-11", "Alder 2"), ("P7-12", "Alder 2"), ("P7-13", "Zinnia 5")):
        floor.machines.write(kinds.UNIT_IN, {"tag": tag, "model": model})
    for tag in ("P7-11", "P7-12"):
        floor.machines.write(kinds.FUNCTION, {"tag": tag, "line": "every-key", "shown": "bad"})
    floor.machines.write(kinds.FUNCTION, {"tag": "P7-13", "line": "every-key", "shown": "good"})

    # Bad on 2 of 3 others: (2 + 20 · .05) / (3 + 20), to which the donor's own model has nothing to add.
    believed_sound = floor.parts.goodness("keyboard", floor.machines.unit("P7-04"), ())
    assert believed_sound == pytest.approx(1 - 3 / 23)


def test_what_is_believed_of_a_machine_follows_its_sheets_and_its_settings(floor: Bench) -> None:
    (waiting,) = (unit for unit in floor.machines.units() if unit.line.tag == "P7-01")

    def believed() -> Answer:
        floor.parts.told()
        answer = floor.parts.answer(waiting)
        assert answer
        return answer

    first = believed()
    assert believed() is first
    slug = first.entries[0].entry
    sheet = floor.entries.sheet(slug)
    assert sheet
    floor.entries.save(slug, sheet.text.replace(sheet.entry.title, "Dark at the plug", 1), digest(sheet.text))
    assert believed().entries[0].title == "Dark at the plug"
    second = believed()
    floor.shop.kept_settings.set_half_life(90)
    assert believed() is not second
