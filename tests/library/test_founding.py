"""A library that is founded passes `check` as it is, and a shop can work with it."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.base.trouble import Refusal
from kb.library.checks import of_shelf
from kb.library.founding import found_library
from kb.library.shelf import Shelf


def test_what_is_founded_has_nothing_to_mend(tmp_path: Path) -> None:
    files = found_library(tmp_path / "lamps")

    assert of_shelf(Shelf(tmp_path / "lamps", None)) == []
    assert [file.name for file in files if file.parent == tmp_path / "lamps"] == [
        "README.md",
        "lamp-stays-dark.md",
    ]


def test_a_folder_that_holds_anything_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "kept.txt").write_text("mine")

    with pytest.raises(Refusal, match="holds something already"):
        found_library(tmp_path)
    with pytest.raises(Refusal, match="holds something already"):
        found_library(tmp_path / "kept.txt")
    assert [path.name for path in tmp_path.iterdir()] == ["kept.txt"]
