"""Files of the house: the shop's own wins over the stock's, and a changed one is read again."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from kb.base.trouble import NotThere
from kb.library import house
from kb.library.customs import FOLDER
from kb.library.shelf import Shelf

LINE = "# Check-out\n\n## By eye\n\n- **{}** (2 min; often): look at it\n"


def test_the_shops_own_list_wins_and_is_read_again_when_it_changes(tmp_path: Path) -> None:
    shelf = Shelf(None, tmp_path)
    shipped = house.check_list(shelf)
    own = tmp_path / FOLDER / house.CHECKOUT
    own.parent.mkdir()

    own.write_text(LINE.format("lid"))
    assert [line.name for line in house.check_list(shelf).lines] == ["lid"]
    own.write_text(LINE.format("hinge-and-lid"))
    assert [line.name for line in house.check_list(shelf).lines] == ["hinge-and-lid"]
    own.unlink()
    assert house.check_list(shelf) == shipped


def test_a_list_that_nobody_has_is_told(tmp_path: Path) -> None:
    with pytest.raises(NotThere, match=r"the list nothing\.md is missing"):
        house.file_of(Shelf(None, tmp_path), "nothing.md")


def test_parts_of_a_machine_come_from_the_house_too(tmp_path: Path) -> None:
    assert os.path.basename(house.file_of(Shelf(None, tmp_path), house.MACHINE)) == "machine.md"
    assert house.complete_machine(Shelf(None, tmp_path)).parts("")
