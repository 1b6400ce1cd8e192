"""The table of sheets: taken in, changed and dropped with everything that their texts hold."""

from __future__ import annotations

import sqlite3
from collections import Counter

import pytest
from helpers.marked import GATED

from kb.index import postings, sheets
from kb.index.sheets import SheetTable, TakenSheet
from kb.language.terms import Content
from kb.library.markdown import parse
from kb.model import Remark

WORDS = Content(Counter({"w:tingl": 10, "s:CASE-": 20}), Counter({"tingles": 1}))


@pytest.fixture
def table() -> SheetTable:
    connection = sqlite3.connect(":memory:")
    connection.executescript(postings.SCHEMA + sheets.SCHEMA)
    return SheetTable(connection)


def sheet(content: Content = WORDS, **told: object) -> TakenSheet:
    entry = parse(GATED, "tingles").entry
    given = {
        "slug": "tingles",
        "stamp": "1",
        "own": False,
        "entry": entry,
        "remarks": (),
        "content": content,
    }
    return TakenSheet(**(given | told))  # type: ignore[arg-type]


def test_a_sheet_that_was_taken_in_is_served_with_its_masses_and_its_danger(
    table: SheetTable,
) -> None:
    table.put([sheet()])

    assert table.stamps() == {"tingles": "1"}
    assert table.entry("tingles") == parse(GATED, "tingles").entry
    assert table.masses() == {"w": {0: 10}, "s": {0: 20}}
    assert table.dangers() == {"tingles": ["it tingles", "a shock"]}


def test_a_changed_sheet_keeps_its_number_and_counts_as_it_stands_now(
    table: SheetTable,
) -> None:
    table.put([sheet(), sheet(slug="other")])
    table.put([sheet(Content(Counter({"w:hum": 10}), Counter()), stamp="2")])

    assert table.slugs() == {1: "other", 0: "tingles"}
    assert table.masses() == {"w": {1: 10, 0: 10}, "s": {1: 20}}


def test_a_dropped_sheet_leaves_nothing(table: SheetTable) -> None:
    table.put([sheet()])
    table.drop(["tingles", "never-was"])

    assert (table.slugs(), table.masses(), table.dangers()) == ({}, {}, {})


def test_a_file_that_cannot_be_served_is_named_with_its_first_remark(
    table: SheetTable,
) -> None:
    remark = Remark("tingles.md", 3, "it has no causes", "write some")
    table.put([sheet(entry=None, remarks=(remark,), unread=True, own=True)])

    (unread,) = table.unread()
    assert (unread.file, unread.line, unread.problem) == (
        "tingles.md",
        3,
        "it has no causes",
    )
    assert table.remarks() == [remark]
    assert (table.slugs(), table.entry("tingles"), table.files()) == (
        {},
        None,
        [("tingles", True)],
    )
