"""A small invented floor with donors and a wanted part."""

from __future__ import annotations

from pathlib import Path

from helpers.places import CORPUS
from kb.bench.front import Bench
from kb.history import kinds

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
