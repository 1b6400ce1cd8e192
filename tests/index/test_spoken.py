"""Complaints in the index: one under several entries is shared between them, and settled again with each job."""

from __future__ import annotations

import sqlite3
from collections import Counter

import pytest

from kb.index import postings, spoken
from kb.index.spoken import UNITS, Retold, Shift, SpokenTable
from kb.language.terms import Content


@pytest.fixture
def table() -> SpokenTable:
    connection = sqlite3.connect(":memory:")
    connection.executescript(postings.SCHEMA + spoken.SCHEMA)
    return SpokenTable(connection)


def test_a_complaint_under_two_entries_is_shared_by_their_jobs(
    table: SpokenTable,
) -> None:
    table.count("dead", "no-light", 3)
    table.count("dead", "no-battery", 1)

    shares = {shift.entry: shift.after for shift in table.settle("dead")}

    assert shares == {"no-light": 3 * UNITS // 4, "no-battery": UNITS // 4}
    assert table.settle("dead") == []
    assert table.texts("no-light") == ["dead"]


def test_a_retracted_job_gives_its_share_back(table: SpokenTable) -> None:
    table.count("dead", "no-light", 1)
    table.count("dead", "no-battery", 1)
    table.settle("dead")
    table.count("dead", "no-battery", -1)

    shifts = {
        shift.entry: (shift.before, shift.after) for shift in table.settle("dead")
    }

    assert shifts == {"no-light": (UNITS // 2, UNITS), "no-battery": (UNITS // 2, 0)}
    assert table.texts("no-battery") == []


def test_what_is_written_is_found_and_what_is_taken_back_is_gone(
    table: SpokenTable,
) -> None:
    content = Content(Counter({"w:dead": 1}), Counter({"dead": 1}))
    table.count("dead", "no-light", 1)
    (told,) = table.settle("dead")
    retold = Retold()
    retold.add(told, content, is_served=True)
    table.write(retold)
    assert table.holding(["w:dead", "w:gone"]) == {"w:dead": [("no-light", UNITS)]}
    assert table.masses() == {"w": {"no-light": UNITS}}
    assert retold.words == {"dead": 1}

    table.count("dead", "no-light", -1)
    (taken,) = table.settle("dead")
    retold = Retold()
    retold.add(taken, content, is_served=True)
    table.write(retold)
    assert (table.holding(["w:dead"]), table.masses()) == ({}, {})


def test_of_many_complaints_those_are_given_that_hold_most_of_the_words(
    table: SpokenTable,
) -> None:
    for text in ("lamp dark", "no lamp", "dead", "lamp stays dark at night", "dark"):
        table.count(text, "no-light", 1)
        table.settle(text)
    table.count("lamp dark here", "no-battery", 1)

    assert table.most_like("no-light", ["lamp", "dark"], 3) == [
        "lamp dark",
        "lamp stays dark at night",
        "dark",
    ]
    assert table.most_like("no-light", [], 9) == table.texts("no-light")


def test_words_are_said_while_any_share_stands() -> None:
    content = Content(Counter({"w:dead": 1}), Counter({"dead": 2}))
    retold = Retold()

    retold.add(Shift("no-light", UNITS, UNITS // 2), content, is_served=True)
    assert retold.words == {}
    retold.add(Shift("no-light", UNITS // 2, 0), content, is_served=True)
    assert retold.words == {"dead": -2}
    retold.add(Shift("no-light", 0, UNITS), content, is_served=False)
    assert retold.words == {"dead": -2}
