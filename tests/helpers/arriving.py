"""A list of machines with planted mistakes."""

from __future__ import annotations

from kb.bench.front import Bench
from kb.history import kinds

MODELS = ("Tern 13", "Skua 14", "Plover 15", "Fulmar 14")


def good_lines() -> list[str]:
    """A pallet of 40 good machines under headings; the first machine stands on line 2."""
    rows = [f"P7-{n:03d},{MODELS[n % 4]},no battery {n},A{n}" for n in range(1, 41)]
    return ["Tag,Model,Complaint,Shelf", *rows]


def furnished(bench: Bench) -> None:
    """A shop that knows the four models, and a machine P6-001 with a serial."""
    for number, model in enumerate(MODELS):
        body = {
            "tag": f"P6-{number + 1:03d}",
            "model": model,
            "lot": "P6",
            "serial": f"SN-{number}",
        }
        bench.machines.write(kinds.UNIT_IN, body)


#: Twelve mistakes, each by the line it is planted on, and a word of what is said of it.
PLANTED = {
    3: ("P7-001,Skua 14,dead,A2", "stands on line 2 too"),
    6: ("P6-001,Tern 13,dead,A5", "is in the shop already"),
    9: ("P7-008,Tren 13,dead,A8", "the nearest is Tern 13"),
    12: ("P7-011,,dead,A11", "the model is missing"),
    15: ("P7-014,Skua 14,dead, loud, hot,A14", "6 fields"),
    18: ('P7-017,Skua 14,"dead,A17', "a quote on this line"),
    20: ("1.2E+05,Skua 14,dead,A19", "spreadsheet"),
    22: (f"P7-021,Skua 14,{'x' * 501},A21", "501 characters"),
    25: ("P7/024,Skua 14,dead,A24", "a stroke"),
    28: ("P7-027,Skua 14,de\x07ad,A27", "cannot be read"),
    31: ("--,Skua 14,dead,A30", "neither a letter nor a digit"),
    40: ("p7 - 002,Skua 14,dead,A39", "stands on line"),
}


def planted() -> str:
    lines = good_lines()
    for number, (line, _) in PLANTED.items():
        lines[number - 1] = line
    lines[3] = "P7-002,Plover 15,hinge loose,A3"
    return "\n".join(lines) + "\n"
