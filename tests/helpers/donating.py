"""A small invented floor with donors and a wanted part."""

from __future__ import annotations

from pathlib import Path

from helpers.places import CORPUS
from kb.bench.front import Bench
from kb.history import kinds
from kb.model import Finding

FLOOR = (
    ("P7-01", "Tern 13", "no light when plugged in", "A1"),
    ("P7-02", "Tern 13", "row of keys dead", "A2"),
    ("P7-03", "Skua 14", "", "A3"),
    ("P7-04", "Tern 13", "board dead", "B1"),
    ("P7-05", "Skua 14", "board dead", "B2"),
)


def floor_in(folder: Path) -> Bench:
    """A shop in that folder with five machines, two of them given up, one of them waiting for a keyboard."""
    bench = Bench(folder, stock=CORPUS)
    for tag, model, words, place in FLOOR:
        told = {"tag": tag, "model": model, "words": words, "place": place, "lot": "P7"}
        bench.machines.write(kinds.UNIT_IN, told)
    bench.machines.give_up("P7-04", "board gone")
    bench.machines.give_up("P7-05", "board gone")
    bench.machines.want("P7-02", "keyboard")
    return bench


#: A list of purchases as a spreadsheet writes it.
LIST = "part,model,count,total,purchase\nkeyboard,Tern 13,3,30.00,4711\n"


def keyless_floor(folder: Path) -> Bench:
    """Two Tern 13 and a Skua 14 that wait for a keyboard, P7-02 longest."""
    bench = Bench(folder, stock=CORPUS)
    for tag, model in (
        ("P7-01", "Tern 13"),
        ("P7-02", "Tern 13"),
        ("P7-03", "Skua 14"),
    ):
        told = {
            "tag": tag,
            "model": model,
            "words": "row of keys dead",
            "place": "A1",
            "lot": "P7",
        }
        bench.machines.write(kinds.UNIT_IN, told)
    for tag in ("P7-02", "P7-03", "P7-01"):
        bench.machines.want(tag, "keyboard")
    return bench


def flat_floor(folder: Path) -> Bench:
    """A Tern 13 without a battery, another that waits for one, and a donor of their model on A7."""
    bench = Bench(folder, stock=CORPUS)
    for tag, words, place in (
        ("P7-01", "no battery is listed", "B1"),
        ("P7-02", "", "B2"),
        ("P7-03", "", "A7"),
    ):
        told = {
            "tag": tag,
            "model": "Tern 13",
            "words": words,
            "place": place,
            "lot": "P7",
        }
        bench.machines.write(kinds.UNIT_IN, told)
    bench.machines.want("P7-02", "battery")
    bench.machines.give_up("P7-03", "board gone")
    return bench


def flat_job(bench: Bench) -> str:
    """A job on the first of them, after tests that leave the pack alone."""
    job = bench.jobs.begin("no battery is listed", "Tern 13", "P7-01")
    for test in ("reseat-the-battery-plug", "unplug-the-charge-light-board"):
        bench.jobs.found(job, Finding(f"no-battery/{test}", "no change"))
    return job


def bought_for_others(bench: Bench) -> None:
    """A lead was bought for a Tern 13, and a Skua 14 waits for one; a keyboard was bought for a Skua 14."""
    bench.machines.want("P7-03", "adapter lead")
    bench.parts.take("P7-05", "adapter lead", good="no")
    for part, model in (("adapter lead", "Tern 13"), ("keyboard", "Skua 14")):
        bought = {
            "purchase": part,
            "part": part,
            "model": model,
            "count": 1,
            "cents": 1500,
        }
        bench.machines.write(kinds.PART_BOUGHT, bought)
    bench.parts.take("P7-04", "keyboard", "P7-02")
