"""The tables of the review, as rows that any reader of CSV takes."""

from __future__ import annotations

import csv
import io

import pytest
from helpers.working import PACK

from kb.bench.front import Bench
from kb.review.tables import TABLES

# Tables and the command line


@pytest.mark.parametrize("name", sorted(TABLES))
def test_every_table_has_a_heading_and_rows_of_its_length(
    shop: Bench, name: str
) -> None:
    shop.jobs.nothing_fits("=1+1", "Tern 13")

    heading, *rows = TABLES[name](shop.looking_back.overview())

    assert rows
    assert {len(row) for row in rows} == {len(heading)}
    assert len(set(heading)) == len(heading)


def test_the_failures_table_holds_what_the_review_counts(shop: Bench) -> None:
    heading, first, *_ = TABLES["failures"](shop.looking_back.overview())
    row = dict(zip(heading, first, strict=True))

    assert (row["cause"], row["jobs"], row["machines"], row["machines seen"]) == (
        PACK,
        2,
        2,
        3,
    )
    assert (row["total minutes"], row["first"], row["last"]) == (
        50.0,
        "2026-01-01",
        "2026-03-31",
    )


def test_the_tables_are_read_back_by_any_csv_reader(shop: Bench) -> None:
    from kb.base.csvtext import to_csv

    shop.jobs.nothing_fits('"=HYPERLINK', "Tern 13")
    shop.jobs.nothing_fits("@sum", "Tern 13", token="x")

    rows = list(
        csv.reader(io.StringIO(to_csv(TABLES["gaps"](shop.looking_back.overview()))))
    )

    assert sorted(row[0] for row in rows[1:]) == ['"=HYPERLINK', "'@sum"]
