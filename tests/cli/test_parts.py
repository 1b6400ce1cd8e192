"""The commands for parts and pile say what the desks say."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from click.testing import Result
from helpers.donating import bought_for_others

from kb.bench.front import Bench
from kb.history import kinds
from kb.machines.parts_told import Purchase


def test_the_commands_say_what_the_desks_say(
    run: Callable[..., Result], tmp_path: Path, floor: Bench
) -> None:
    told = json.loads(run("pile", "--lot", "P7", "--hours", "8", "--json").stdout)
    assert told["next"]["tag"] in ("P7-01", "P7-02")
    assert told["not_looked_at"] == ["P7-03"]
    shown = run("pile", "--lot", "P7", "--money", "200").stdout
    assert "Next: " in shown
    assert "in 8 hours with 2.00 for parts" in shown
    assert "(Tern 13" in shown
    assert "Not looked at yet: P7-03" in run("pile", "--lot", "P7").stdout
    assert "keyboard for Tern 13: P7-02" in run("parts", "--wanted").stdout
    assert (
        "1. P7-04 (Tern 13) at B1: fits: the same model"
        in run("parts", "keyboard", "--for", "P7-02").stdout
    )
    assert (
        "is taken from P7-04"
        in run("parts", "keyboard", "--for", "P7-02", "--take", "P7-04").stdout
    )
    assert (
        "has left P7-04 already"
        in run("parts", "keyboard", "--take", "P7-04", status=1).stderr
    )
    assert "name a part" in run("parts", status=2).stderr
    assert "say which model" in run("parts", "fan", status=2).stderr
    assert (
        "no machine came in a lot P9; lots here: P7"
        in run("pile", "--lot", "P9", status=2).stderr
    )


def test_a_piece_out_of_a_donor_lies_in_the_drawer_until_a_machine_gets_it(
    run: Callable[..., Result], stocked: Bench
) -> None:
    for tag in ("P7-03", "P7-05"):
        stocked.machines.write(kinds.UNIT_IN, {"tag": tag, "model": "Skua 14"})
    assert (
        "is in the drawer"
        in run("parts", "keyboard", "--for", "P7-03", "--from-drawer", status=1).stderr
    )
    run("unit", "P7-05", "--give-up", "board dead")
    run("parts", "keyboard", "--take", "P7-05", "--good", "yes")
    shown = run("parts", "keyboard", "--for", "P7-03").stdout
    assert "1. drawer P7-05 (Skua 14): fits: the same model; good 10 in 10" in shown
    (first, *_) = json.loads(
        run("parts", "keyboard", "--for", "P7-03", "--json").stdout
    )["donors"]
    assert (first["tag"], first["in_drawer"], first["place"]) == (
        "drawer P7-05",
        1,
        None,
    )
    assert (
        "say for which machine"
        in run("parts", "keyboard", "--from-drawer", status=2).stderr
    )
    told = run("parts", "keyboard", "--for", "P7-03", "--from-drawer").stdout
    assert told == "keyboard from P7-05 is taken out of the drawer for P7-03\n"
    assert stocked.machines.unit("P7-03").to_fit == ("keyboard",)


def test_a_price_that_was_paid_for_another_model_says_so(
    run: Callable[..., Result], floor: Bench
) -> None:
    bought_for_others(floor)
    asked, wanted = ("parts", "adapter lead", "--for", "P7-03"), ("parts", "--wanted")

    sources = json.loads(run(*asked, "--json").stdout)
    (part,) = json.loads(run(*wanted, "--json").stdout)
    (added,) = json.loads(run("pile", "--json").stdout)["one_bought_part_adds"]

    assert [(one["price"], one["paid_for"]) for one in (sources, part)] == [
        (1500, "Tern 13")
    ] * 2
    assert (added["model"], added["cents"], added["paid_for"]) == (
        "Tern 13",
        1500,
        "Skua 14",
    )
    assert "or buy: 15.00 (as paid for Tern 13)" in run(*asked).stdout
    assert "order 1 at 15.00 (as paid for Tern 13)" in run(*wanted).stdout
    assert (
        "A keyboard at 15.00 (as paid for Skua 14) makes one more Tern 13"
        in run("pile").stdout
    )
    floor.buying.buy(
        Purchase(
            purchase="own",
            part="adapter lead",
            model="Skua 14",
            count=1,
            cents=900,
            tag="",
            at="",
        )
    )
    own = json.loads(run(*asked, "--json").stdout)
    assert (own["price"], own["paid_for"]) == (900, None)
