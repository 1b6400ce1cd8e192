"""Cautions stand at the step they belong to: the house's by what the step does, then its sheet's own."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import Result

from kb.bench.front import Bench
from kb.library.cautions import parse
from kb.library.customs import Customs, stock_folder
from kb.library.shelf import Shelf
from kb.model import Entry, Fix, Test

HOUSE = parse("""
## Live measuring
- said: with power on
- Rings off.
- One hand away.

## Cover off
- implied by: cover off
- Charger out.
- Pack unplugged.
- source: a handbook, page 3

## Board swap
- implied by: part mainboard, needs hot air station
- Check the donor.
""")
LOOK = Test("look", "Look inside", 2, ())
NOTES = ("Never measure at the socket.", "Mind the cover.", "Wear gloves.", "Rings.")
SHEET = Entry("dead", "Dead", "power", (), (), (LOOK,), (), NOTES, ())


def test_a_step_does_what_it_names_what_its_attributes_imply_and_what_its_text_says() -> (
    None
):
    def deeds(step: Test | Fix) -> list[str]:
        return [deed.name for deed in HOUSE.done_by(step)]

    assert deeds(LOOK) == []
    assert deeds(replace(LOOK, cover_off=True)) == ["cover off"]
    assert deeds(replace(LOOK, detail="Measure it\nwith Power on.")) == [
        "live measuring"
    ]
    assert deeds(replace(LOOK, does=("board swap",), cover_off=True)) == [
        "cover off",
        "board swap",
    ]
    assert deeds(Fix(("board",), 90, "swap it", parts=("mainboard",))) == ["board swap"]
    assert deeds(Fix(("board",), 90, "heat it", needs=("hot air station",))) == [
        "board swap"
    ]


def test_the_first_caution_of_each_deed_comes_before_the_second_of_any_and_the_sheets_own_last() -> (
    None
):
    step = replace(LOOK, cover_off=True, does=("live measuring",))

    assert HOUSE.of_step(SHEET, step) == (
        "Rings off.",
        "Charger out.",
        "One hand away.",
        "Pack unplugged.",
        "Mind the cover.",
    )


def test_a_sheet_with_few_notes_shows_all_of_them_at_each_step() -> None:
    assert HOUSE.of_step(replace(SHEET, safety=NOTES[2:]), LOOK) == NOTES[2:]


def test_a_step_that_the_house_does_not_caution_of_shows_all_notes_of_its_sheet() -> (
    None
):
    assert HOUSE.of_step(SHEET, LOOK) == NOTES
    assert HOUSE.of_step(SHEET, replace(LOOK, does=("board swap",))) == (
        "Check the donor.",
    )


def test_a_shop_cautions_of_deeds_of_its_own(tmp_path: Path) -> None:
    own = tmp_path / "house"
    own.mkdir()
    (own / "cautions.md").write_text("## Lifting\n- said: lift\n- Two people.\n")

    house = Customs(stock_folder(), tmp_path).cautions()

    assert house.of_step(SHEET, replace(LOOK, detail="Lift it.")) == ("Two people.",)
    assert [deed.name for deed in house.done_by(replace(LOOK, cover_off=True))] == []


@pytest.fixture(scope="module")
def shelf() -> Shelf:
    return Shelf(stock_folder(), None)


def test_whoever_opens_a_machine_is_told_to_take_charger_and_pack_off(
    shelf: Shelf, library: tuple[Entry, ...]
) -> None:
    house = shelf.customs.cautions()
    for entry in library:
        steps: list[Test | Fix] = [*entry.tests, *entry.fixes]
        for step in (step for step in steps if step.cover_off):
            told = " ".join(house.of_step(entry, step))
            assert "pull the charger" in told, entry.slug
            assert "Unplug the pack as the first deed" in told, entry.slug


def test_whoever_loads_setup_defaults_is_told_of_the_recovery_key(
    shelf: Shelf, library: tuple[Entry, ...]
) -> None:
    house = shelf.customs.cautions()
    loads = re.compile(
        r"\bload(?:ing)? (?:the )?(?:setup |factory |firmware )?defaults", re.IGNORECASE
    )
    found = 0
    for entry in library:
        steps: list[Test | Fix] = [*entry.tests, *entry.fixes]
        for step in steps:
            text = (
                f"{step.title} {step.detail}" if isinstance(step, Test) else step.text
            )
            if loads.search(text):
                found += 1
                assert any(
                    "recovery key" in note for note in house.of_step(entry, step)
                ), f"{entry.slug}: {text[:60]}"
    assert found > 20


def test_a_search_tells_the_worst_caution_before_the_step_and_all_of_them_as_json(
    run: Callable[..., Result],
) -> None:
    lines = run("search", "swollen battery").stdout.splitlines()
    found = json.loads(run("search", "swollen battery", "--json").stdout)

    step = next(i for i, line in enumerate(lines) if line.startswith("Next: "))
    cautions = found["next_step"]["cautions"]
    assert lines[step - 1].startswith(f"Before: {cautions[0]}")
    assert all(isinstance(note, str) and note for note in cautions)


def test_the_guide_tells_each_caution_once(run: Callable[..., Result]) -> None:
    told = run(
        "guide", "battery not detected", "--model", "Tern 13", given="2\n2\n2\nq\n"
    ).stdout

    notes = [line for line in told.splitlines() if line.startswith("  ! ")]
    assert len(notes) > 3
    assert len(set(notes)) == len(notes)
    assert "Unplug the pack as the first deed" in told


def test_a_page_shows_the_cautions_of_its_step_before_it(bench: Bench) -> None:
    from helpers.visiting import Visitor

    from webui.app import create_app

    step = bench.asking.search("battery absent in setup").next_step
    page = Visitor(create_app(bench)).go("/?q=battery+absent+in+setup")

    assert step is not None
    assert step.cautions
    at = page.html.index('class="step"')
    assert 0 < page.html.index(re.split(r"['\"&]", step.cautions[0])[0]) < at
