"""The stock is found from a checkout; sheets among its files are told from the guide and from hidden ones."""

from __future__ import annotations

from pathlib import Path

from helpers.places import ROOT

from kb.library.stock import may_be_entry, stamp_of, stock_folder


def test_the_stock_of_a_checkout_lies_beside_the_program() -> None:
    assert stock_folder() == ROOT / "entries"


def test_a_guide_a_hidden_file_and_another_kind_of_file_are_no_sheets() -> None:
    names = ("no-sound.md", "README.md", ".no-sound.md", "no-sound.md~", "house")

    assert [name for name in names if may_be_entry(name)] == ["no-sound.md"]


def test_a_stamp_changes_with_the_file(tmp_path: Path) -> None:
    sheet = tmp_path / "no-sound.md"
    sheet.write_text("one")
    before = stamp_of(str(sheet), sheet.stat())
    assert stamp_of(str(sheet), sheet.stat()) == before

    sheet.write_text("three")
    assert stamp_of(str(sheet), sheet.stat()) != before
    assert before.startswith(f"{sheet}|3|")
