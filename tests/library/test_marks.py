"""Marks of sheets beyond causes and minutes: acts, waiting, deeds, states, other sheets, pallets."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from kb.library import checks
from kb.library.customs import Customs, stock_folder
from kb.library.markdown import parse
from kb.library.outcomes import outcome_probabilities
from kb.library.shelf import Shelf
from kb.library.states import can_be_done
from kb.library.writing import write
from kb.model import Entry

SHEET = """---
title: No light at all
area: power
machine: dead
---

## Symptom

- no light
- nothing when pressed
- dead
- dark

## Not this if

- the fan turns
- a light is on
- a picture shows

## Likely causes

- **charger** (often; pallet rare): the charger is dead
- **hang** (often): the controller hangs
- **board** (rare; pallet often): the board is dead

## Cheapest test first

1. Drain it well (act drain the standby power; says nothing of charger, board)
    - it starts: hang; machine starts
    - still nothing: not hang; machine dead
2. Shine a torch (2 min; wait 3 min; machine picture; does live measuring, cover off; 4 in 5)
    - a faint picture: board; see backlight-dead, no-image-machine-runs/panel; machine no picture
    - all dark: see charge-light-but-no-start; machine dead, lights
    - it starts: charger, hang; not board
3. Take another charger (3 min; needs charger, installed system)
    - it starts: charger
    - no change: not charger

## Fix

- **charger** (5 min; wait 30 min; part charger): fit another
- **hang** (5 min): drain it
- **board** (95 min; act board swap; does live measuring; machine lights; part mainboard): swap it

## Safety

- Pull the charger.

## Also heard as

- no life
"""


@pytest.fixture
def sheet() -> Entry:
    parsed = parse(SHEET, "no-light")
    assert parsed.remarks == ()
    assert parsed.entry is not None
    return parsed.entry


def _house(tmp_path: Path, **files: str) -> Customs:
    folder = tmp_path / "house"
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.md").write_text(text)
    return Customs(None, tmp_path)


def test_every_mark_is_read(sheet: Entry) -> None:
    drain, torch, _ = sheet.tests
    faint, dark, starts = torch.outcomes
    charger, _, board = sheet.causes

    assert sheet.machine == ("dead",)
    assert sheet.not_this_if == ("the fan turns", "a light is on", "a picture shows")
    assert (charger.weight, charger.pallet, board.pallet) == ("often", "rare", "often")
    assert (drain.minutes, drain.wait, drain.reliability) == (2, 10, 0.72)
    assert drain.untold == ("charger", "board")
    assert (torch.wait, torch.machine, torch.does) == (3, ("picture",), ("live measuring", "cover off"))
    assert (faint.points_to, faint.see) == (("board",), ("backlight-dead", "no-image-machine-runs/panel"))
    assert (dark.points_to, dark.machine) == ((), ("dead", "lights"))
    assert (starts.points_to, starts.clears) == (("charger", "hang"), ("board",))
    assert (sheet.fixes[0].wait, sheet.fixes[2].act, sheet.fixes[2].machine) == (30, "board swap", ("lights",))


def test_a_sheet_with_every_mark_comes_back_equal_from_its_canonical_text(sheet: Entry) -> None:
    again = parse(write(replace(sheet, sections=())), "no-light")

    assert again.remarks == ()
    assert again.entry == sheet


def test_what_the_bracket_says_wins_over_the_standard_act() -> None:
    entry = parse(SHEET.replace("(act drain", "(6 min; 9 in 10; act drain"), "no-light").entry

    assert entry is not None
    assert (entry.tests[0].minutes, entry.tests[0].wait, entry.tests[0].reliability) == (6, 10, 0.9)


def test_a_shop_has_its_own_minutes_for_a_standard_act(tmp_path: Path) -> None:
    own = tmp_path / "entries"
    (own / "house").mkdir(parents=True)
    (own / "no-light.md").write_text(SHEET)
    shelf = Shelf(None, own)
    before = shelf.stamps()

    acts = "- **drain the standby power** (9 min; 1 in 2): slowly.\n- **board swap** (50 min): quickly."
    (own / "house" / "acts.md").write_text(acts)

    sheet = shelf.sheet("no-light")
    assert sheet is not None
    assert sheet.entry is not None
    assert (sheet.entry.tests[0].minutes, sheet.entry.tests[0].reliability) == (9, 0.5)
    assert shelf.stamps() != before


def test_of_a_cause_that_a_test_says_nothing_of_nothing_is_learned(sheet: Entry) -> None:
    drain = sheet.tests[0]

    assert outcome_probabilities(drain, "charger") == (0.5, 0.5)
    assert outcome_probabilities(drain, "hang") == pytest.approx((0.72, 0.28))


def test_an_outcome_that_points_to_another_sheet_is_not_what_a_cause_here_would_show() -> None:
    text = SHEET.replace("    - it starts: charger, hang; not board\n", "    - bright: nothing\n").replace(
        ": board; see", ": see"
    )
    entry = parse(text, "no-light").entry

    assert entry is not None
    assert outcome_probabilities(entry.tests[1], "hang") == pytest.approx((0.1, 0.1, 0.8))


def test_a_test_is_for_machines_that_still_do_what_it_needs(sheet: Entry) -> None:
    _, torch, charger = sheet.tests

    assert not can_be_done(torch, {"dead", "no picture"})
    assert can_be_done(torch, {"dead", "starts"})
    assert can_be_done(torch, ())
    assert not can_be_done(charger, {"starts"}), "an installed system has to run"


def test_silent_causes_strangers_and_thin_lists_are_named(sheet: Entry) -> None:
    text = SHEET.replace("; says nothing of charger, board", "").replace("not hang; machine", "board; machine")
    text = text.replace("- a light is on\n", "").replace("does board swap", "does board swop")
    entry = parse(text, "no-light").entry
    assert entry is not None

    silent = [str(remark) for remark in checks.inspect(entry) if "does not say what it shows" in remark.problem]
    thin = [remark.problem for remark in checks.inspect(entry) if "Not this if" in remark.problem]
    strange = {remark.problem for remark in checks.inspect_library([entry])}

    assert silent == [
        "no-light.md:27: `Drain it well` does not say what it shows with charger; name each after an outcome, "
        "clear it with `not`, or put `says nothing of charger` in brackets"
    ]
    assert thin == ["`Not this if` has 2"]
    assert "there is no entry `backlight-dead`" in strange


def test_a_cause_of_another_sheet_must_be_there(sheet: Entry) -> None:
    other = replace(sheet, slug="no-image-machine-runs")

    told = [remark.problem for remark in checks.inspect_library([sheet, other])]

    assert "`no-image-machine-runs` has no cause `panel`" in told


def test_deeds_and_minutes_are_held_against_the_house(sheet: Entry, tmp_path: Path) -> None:
    house = _house(
        tmp_path, acts="- **take another charger** (9 min; 9 in 10): a good one.", cautions="## Cover off\n- Strap on."
    )

    told = [remark.problem for remark in checks.inspect_customs(sheet, house)]

    assert told == [
        "there is no deed `live measuring` among the house cautions",
        "there is no deed `live measuring` among the house cautions",
        "`Take another charger` takes 3 min and is trusted 0.95, the standard act `take another charger` 9 and 0.90",
    ]


def test_what_is_wrong_in_the_house_files_is_named_by_file_and_line(tmp_path: Path) -> None:
    house = _house(
        tmp_path,
        acts="# Acts\n- **look** (2 mins): look\n- **feel** (2 min; 3 in 2): feel\n- **ask** (9 in 10): ask\n- listen",
        cautions="- Strap on.\n## Cover off\nand more\n## Solvents\n- said: alcohol\n## Cover off\n- Strap on.",
    )

    assert [f"{remark.file}:{remark.line}: {remark.problem}" for remark in house.remarks()] == [
        "house/acts.md:2: `2 mins` is not understood",
        "house/acts.md:3: `3 in 2` is not understood",
        "house/acts.md:4: no minutes are given",
        "house/acts.md:5: this line is not understood",
        "house/cautions.md:1: this line stands under no deed",
        "house/cautions.md:2: `cover off` has no caution",
        "house/cautions.md:3: this is not part of a list",
        "house/cautions.md:4: `solvents` has no caution",
        "house/cautions.md:6: `cover off` stands twice",
    ]


def test_the_shipped_house_has_nothing_to_mend() -> None:
    house = Customs(stock_folder(), None)

    assert house.remarks() == []
    assert len(house.acts().by_name) >= 25
    assert {"cover off", "live measuring", "loading setup defaults", "board swap"} <= house.cautions().names


def test_how_to_write_a_sheet_is_no_sheet(tmp_path: Path) -> None:
    (tmp_path / "README.md").write_text("# How to write a sheet")
    (tmp_path / "no-light.md").write_text(SHEET)

    assert list(Shelf(tmp_path, None).files()) == ["no-light"]
    assert not [one for one in checks.of_files([tmp_path], Customs(None, None)) if one.file == "README.md"]
