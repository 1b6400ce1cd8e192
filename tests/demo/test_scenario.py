"""The scenario of a demo, and what is said of one that is missing or wrong."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from kb.base.trouble import NotThere, Refusal
from kb.demo.scenario import scenario_of, shipped_scenario
from kb.library.customs import Customs
from kb.model import Entry


def library_of(folder: Path, demo: str = "") -> Customs:
    (folder / "house").mkdir()
    (folder / "house" / "trade.toml").touch()
    if demo:
        (folder / "house" / "demo.toml").write_text(demo, encoding="utf-8")
    return Customs(folder, None)


def test_every_habit_and_common_entry_that_ships_is_of_the_library(
    library: tuple[Entry, ...],
) -> None:
    shipped = shipped_scenario()
    entries = {entry.slug: entry for entry in library}

    assert shipped.common <= entries.keys()
    for habit in shipped.habits:
        assert habit.model in shipped.models
        assert entries[habit.entry].cause(habit.cause.partition("/")[2]), habit.cause
    assert {
        model
        for families in shipped.families.values()
        for one in families
        for model in one
    } <= set(shipped.models)


def test_readings_are_drawn_as_the_file_says() -> None:
    shipped, chance = shipped_scenario(), Random(1)

    assert shipped.reading("wear", chance).endswith(" % of the rated capacity")
    assert shipped.reading("look", chance)[0] in "ABC"
    assert shipped.reading("oil", chance) == ""


def test_a_library_without_a_demo_says_which_file_is_missing(tmp_path: Path) -> None:
    with pytest.raises(NotThere, match=r"demo\.toml"):
        scenario_of(library_of(tmp_path))


@pytest.mark.parametrize(
    "text",
    ["shop = ", 'shop = "A"', 'shop = "A"\nseller = "B"\nsearch = "c"\n[models]\n'],
)
def test_a_demo_that_is_not_in_its_form_is_refused_in_a_sentence(
    tmp_path: Path, text: str
) -> None:
    with pytest.raises(Refusal, match="is not in its form"):
        scenario_of(library_of(tmp_path, text))
