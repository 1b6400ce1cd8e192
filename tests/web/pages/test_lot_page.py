"""The page of a lot: narrowed, counted, and the same everywhere."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter

import pytest
from helpers.floors import came_in
from helpers.pseudo import Strays, names_of, wide_tongue
from helpers.visiting import HOME, Visitor

from kb.bench.front import Bench
from kb.cli.machines import of_lot
from kb.machines.units import FloorState
from webui.app import create_app
from webui.pages import lot_page


def test_two_hundred_open_jobs_are_two_taps_away_each(
    bench: Bench, visitor: Visitor
) -> None:
    with bench.history().together():
        for number in range(200):
            bench.jobs.begin(f"no battery {number}", "Tern 13", f"P7-{number:03d}")
        bench.jobs.begin("hums", "Tern 13")

    page = visitor.follow("Machines")

    links = {to for to, _ in page.links}
    assert {f"/u/P7-{number:03d}" for number in range(200)} <= links
    assert "hums" in page.text
    home = visitor.go("/")
    assert "all 201 open jobs" in home.text


def test_of_very_many_machines_a_page_shows_a_part_and_counts_all(
    bench: Bench, visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lot_page, "MOST_LISTED", 3)
    for number in range(1, 9):
        came_in(bench, f"P7-00{number}", model="Tern 13" if number < 8 else "Skua 14")

    def shown() -> list[str]:
        assert visitor.page.html.count('class="box ') == visitor.page.html.count("</q>")
        return sorted({to[-1] for to, _ in visitor.page.links if to.startswith("/u/")})

    visitor.go("/machines?model=tern+13")
    assert (shown(), "1 to 3 of 7 machines" in visitor.page.text) == (
        ["1", "2", "3"],
        True,
    )
    assert "All 8 machines" in visitor.page.text
    assert [shown() for _ in range(2) if visitor.follow("Those after")] == [
        ["4", "5", "6"],
        ["7"],
    ]
    assert "Those after" not in visitor.page.text
    visitor.follow("Those before")
    assert shown() == ["4", "5", "6"]
    assert visitor.page.html.count("waiting <b>8</b>") == 1
    for nowhere in ("x", "-3", "99", ""):
        visitor.go(f"/lot/P7?after={nowhere}")
        assert shown() == ["1", "2", "3"], nowhere
    visitor.go("/lot/P7?text=P7-008")
    assert (shown(), "Those after" in visitor.page.text) == (["8"], False)


def test_a_lot_is_narrowed_by_state_model_next_step_and_who(
    bench: Bench, visitor: Visitor
) -> None:
    for number, model in enumerate(("Tern 13", "Skua 14", "Skua 14"), 1):
        came_in(bench, f"P7-00{number}", model=model)
    bench.machines.hand_over("P7-002", "AW")
    bench.jobs.begin("dead", "Skua 14", "P7-003")

    def listed(query: str) -> set[str]:
        page = visitor.go(f"/lot/P7?{query}")
        return {to.removeprefix("/u/") for to, _ in page.links if to.startswith("/u/")}

    assert listed("") == {"P7-001", "P7-002", "P7-003"}
    assert listed("model=skua+14") == {"P7-002", "P7-003"}
    assert listed("who=AW") == {"P7-002"}
    assert listed("state=on+the+bench") == {"P7-003"}
    assert listed("step=find+the+fault") == {"P7-001", "P7-002"}
    assert listed("text=P7-001") == {"P7-001"}


# The demo


def test_rack_list_csv_and_command_say_the_same_of_every_lot_of_the_demo(
    demo: Bench,
) -> None:
    visitor = Visitor(create_app(demo))
    lots = demo.machines.lots()
    assert [len(lot.units) for lot in sorted(lots, key=lambda lot: lot.name)] == [
        18,
        24,
        30,
        12,
        40,
        28,
        36,
        32,
    ]
    for lot in lots:
        counted = {
            state.value: number for state, number in lot.states.items() if number
        }
        page = visitor.go(f"/lot/{lot.name}")
        boxes = Counter(re.findall(r'class="box is-(\w+)"', page.html))
        here = {
            FloorState[name.upper()].value: number for name, number in boxes.items()
        }
        gone = counted.get("gone", 0)
        assert here == {
            state: number for state, number in counted.items() if state != "gone"
        }
        assert page.html.count('<ul class="units">') == 1
        listed = re.findall(
            r'<li><a href="/u/[^"]+"><span class="mark is-(\w+)"', page.html
        )
        assert Counter(FloorState[name.upper()].value for name in listed) == counted
        sheet = visitor.client.get(f"/lot/{lot.name}/machines.csv", base_url=HOME).text
        table = list(csv.DictReader(io.StringIO(sheet)))
        assert Counter(row["state"] for row in table) == counted
        assert {
            state: number for state, number in of_lot(lot)["states"].items() if number
        } == counted
        assert lot.way[0].reached == len(table) == sum(boxes.values()) + gone
        assert sum(number for drop in lot.way for number in drop.left.values()) == len(
            table
        )


#: Pages of every kind; of machines one in each state is added.
EVERY_KIND = (
    "/",
    "/?q=wont+chrge&model=Trn+13",
    "/?q=battery+swollen",
    "/?q=dishwasher+leaks",
    "/machines",
    "/lot/P7",
    "/library?q=fan",
    "/library/checks",
    "/review",
    "/review?model=Tern+13",
    "/keys",
    "/tools",
    "/retracted",
    "/pile",
    "/parts?part=battery&model=Tern+13",
    "/cost",
    "/labels?lot=P7",
    "/arrival",
    "/new",
    "/u/none",
    "/nothere",
    "/entry/none",
    "/pile?hours=x",
    "/entry/battery-swollen",
    "/entry/fan-noisy/changes",
    "/confirm?cause=fan-noisy/dust&q=fan",
    "/lot/none",
    "/job/none",
    "/checkout/codes",
)


#: What somebody typed, or is shown how to type.
TYPED = (
    "part,model,count,total,bought",
    "model,count,sale",
    "Tern 13,12,90.00",
    "first-cause",
    "second-cause",
    "none",
    "chrge",
)


def test_no_page_of_the_demo_holds_a_word_from_outside_the_catalogues(
    demo: Bench,
) -> None:
    """Every string in wide letters: what is left in plain ones is a sheet's text, marked, or somebody's own."""
    entries, lines = demo.entries.served(), demo.checkout.of("P7-001").standing
    own = [
        *names_of(entries),
        *demo.asking.models(),
        *(one.line.name for one in lines),
        *TYPED,
    ]
    of_states = {one.state: f"/u/{one.line.tag}" for one in demo.machines.units()}
    client = create_app(demo, tongues={"en": wide_tongue()}).test_client()
    addresses = [
        *EVERY_KIND,
        *of_states.values(),
        *(f"{one}/checkout" for one in of_states.values()),
    ]
    strays = {
        address: Strays(client.get(address, base_url=HOME).text, own).found
        for address in addresses
    }

    assert {address: found for address, found in strays.items() if found} == {}


def test_what_was_paid_for_a_lot_is_missed_on_its_page_and_in_the_cost_until_it_is_written_down(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench, "P7-001")
    assert "paid for these" in visitor.go("/cost").text
    page = visitor.follow("P7")
    assert "counts as nothing in the cost" in page.text

    page = visitor.press(
        "Write it down",
        paid="864",
        freight="60,00",
        bought_on="2026-11-30",
        seller="X (invented)",
    )

    assert "paid 864.00, freight 60.00" in page.text
    assert "paid for these" not in visitor.go("/cost").text
    assert bench.cost.lot("P7").cost.share == 92400
