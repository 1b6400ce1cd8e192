"""Marks of sheets beyond causes and minutes: acts, waiting, deeds, states, other sheets, pallets."""

from __future__ import annotations

from pathlib import Path

from helpers.marked import MARKED

from kb.library import checks
from kb.library.customs import Customs
from kb.library.shelf import Shelf
from kb.model import Entry


def test_every_mark_is_read(marked: Entry) -> None:
    drain, torch, _ = marked.tests
    faint, dark, starts = torch.outcomes
    charger, _, board = marked.causes

    assert marked.machine == ("dead",)
    assert marked.not_this_if == ("the fan turns", "a light is on", "a picture shows")
    assert (charger.weight, charger.pallet, board.pallet) == ("often", "rare", "often")
    assert (drain.minutes, drain.wait, drain.reliability) == (2, 10, 0.72)
    assert drain.untold == ("charger", "board")
    assert (torch.wait, torch.machine, torch.does) == (
        3,
        ("picture",),
        ("live measuring", "cover off"),
    )
    assert (faint.points_to, faint.see) == (
        ("board",),
        ("backlight-dead", "no-image-machine-runs/panel"),
    )
    assert (dark.points_to, dark.machine) == ((), ("dead", "lights"))
    assert (starts.points_to, starts.clears) == (("charger", "hang"), ("board",))
    assert (marked.fixes[0].wait, marked.fixes[2].act, marked.fixes[2].machine) == (
        30,
        "board swap",
        ("lights",),
    )


def test_how_to_write_a_sheet_is_no_sheet(tmp_path: Path) -> None:
    (tmp_path / "README.md").write_text("# How to write a sheet")
    (tmp_path / "no-light.md").write_text(MARKED)

    assert list(Shelf(tmp_path, None).files()) == ["no-light"]
    assert not [
        one
        for one in checks.of_files([tmp_path], Customs(None, None))
        if one.file == "README.md"
    ]
