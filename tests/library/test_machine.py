"""The parts of a complete machine and their weights."""

from __future__ import annotations

from pathlib import Path

from kb.library import machine
from kb.library.customs import shipped_customs
from kb.library.shelf import stock_folder


def test_the_shipped_machine_has_no_problem_and_its_weights_make_a_hundred() -> None:
    read = machine.parse(
        Path(stock_folder() / "house" / "machine.md").read_text("utf-8")
    )

    assert read.remarks == ()
    assert sum(part.weight for part in read.general) == 100
    assert {part.name for part in read.general} <= shipped_customs().trade().parts


def test_a_model_with_parts_of_its_own_keeps_the_general_ones() -> None:
    general = "# A machine\n- **fan** (weight 2; out 8 min; depth 2)\n- **panel** (weight 15)\n"
    text = general + "## Skua 14\n- **fan** (count 2)"

    read = machine.parse(text)

    assert [(part.name, part.count) for part in read.parts("SKUA 14")] == [
        ("fan", 2),
        ("panel", 1),
    ]
    assert read.part("fan", "Tern 13") == read.general[0]
