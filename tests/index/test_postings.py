"""Postings: counts that cannot be read are made anew."""

from __future__ import annotations

import sqlite3

from kb.bench.front import Bench
from kb.model import Confirmation


def test_an_index_whose_counts_cannot_be_read_is_made_anew_when_they_change(
    bench: Bench,
) -> None:
    bench.asking.search("batt missing")
    with sqlite3.connect(bench.folder / "index.db") as connection:
        connection.execute("UPDATE sheet SET content = x'00'")
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13", words="batt missing"))

    found = bench.asking.search("batt missing", "Tern 13").entries[0]

    assert (found.entry, found.jobs_here) == ("no-battery", 1)
