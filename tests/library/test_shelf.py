"""The folders of entries: the shop's own on top, nothing foreign followed, saves whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from helpers.places import CORPUS

from kb.base.trouble import Refusal
from kb.library.markdown import MAX_BYTES
from kb.library.shelf import EntryChanged, Shelf, digest, read_sheet, stock_folder

TEXT = (CORPUS / "no-battery.md").read_text()


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(CORPUS, tmp_path / "entries")


def test_the_shops_file_wins_over_the_stock_file_of_that_name(shelf: Shelf) -> None:
    shelf.save(
        "no-battery", TEXT.replace("The machine shows no battery", "Ours"), digest(TEXT)
    )

    sheet = shelf.sheet("no-battery")

    assert sheet is not None
    assert sheet.own
    assert sheet.entry is not None
    assert sheet.entry.title == "Ours"
    assert (CORPUS / "no-battery.md").read_text() == TEXT


def test_a_second_editor_is_told_and_shown_what_stands_there(shelf: Shelf) -> None:
    base = digest(TEXT)
    shelf.save("no-battery", TEXT + "\n<!-- first -->\n", base)

    with pytest.raises(EntryChanged) as told:
        shelf.save("no-battery", TEXT + "\n<!-- second -->\n", base)

    assert "first" in told.value.current


def test_a_name_that_leads_elsewhere_is_refused(shelf: Shelf, tmp_path: Path) -> None:
    for name in ("../x", "a/b", "", "A", "a--b", ".hidden", "x" * 200, "con\x00"):
        with pytest.raises(Refusal, match="cannot name an entry"):
            shelf.save(name, TEXT, "")
        assert shelf.sheet(name) is None
    assert not (tmp_path / "x.md").exists()


def test_an_entry_over_the_limit_is_refused_with_the_reason(shelf: Shelf) -> None:
    with pytest.raises(Refusal, match="64 KiB"):
        shelf.save("too-long", "x" * (MAX_BYTES + 1), "")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe\x00-", "UTF-8"),
        (b"---\ntitle: \x00\n", "NUL"),
        (b"x" * (MAX_BYTES + 1), "bytes"),
    ],
    ids=["utf-16", "nul", "huge"],
)
def test_a_foreign_file_is_reported_and_takes_nothing_down(
    shelf: Shelf, content: bytes, said: str
) -> None:
    assert shelf.own is not None
    shelf.own.mkdir()
    (shelf.own / "foreign.md").write_bytes(content)

    sheets = {sheet.slug: sheet for sheet in shelf.sheets()}

    assert sheets["foreign"].entry is None
    assert said in sheets["foreign"].parsed.remarks[0].problem
    assert sheets["no-battery"].entry is not None


def test_links_pipes_and_folders_are_not_followed(shelf: Shelf, tmp_path: Path) -> None:
    assert shelf.own is not None
    shelf.own.mkdir()
    (tmp_path / "secret").write_text("secret")
    (shelf.own / "a-link.md").symlink_to(tmp_path / "secret")
    (shelf.own / "a-folder.md").mkdir()
    os.mkfifo(shelf.own / "a-pipe.md")

    found = {sheet.slug: sheet for sheet in shelf.sheets() if sheet.own}

    assert set(found) == {"a-link", "a-folder", "a-pipe"}
    assert all(sheet.entry is None and sheet.text == "" for sheet in found.values())


@pytest.mark.skipif(os.geteuid() == 0, reason="root reads everything")
def test_an_unreadable_file_is_reported(shelf: Shelf) -> None:
    assert shelf.own is not None
    shelf.own.mkdir()
    (shelf.own / "shut.md").write_text(TEXT)
    (shelf.own / "shut.md").chmod(0)

    assert (
        "cannot be read"
        in read_sheet(shelf.own / "shut.md", own=True).parsed.remarks[0].problem
    )


def test_the_stock_entries_are_found_from_a_checkout() -> None:
    assert (stock_folder() / "battery-not-detected.md").exists()
