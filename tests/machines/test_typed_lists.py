"""Typed lists: whatever the headings are called and the separator is, and each problem by its line."""

from __future__ import annotations

import pytest

from kb.machines.typed_lists import ListForm, read_table

FORM = ListForm(
    {"tag": ("tag", "asset no"), "price": ("price", "sum")},
    needed="tag",
    example="tag,price",
)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_columns_are_found_under_other_names_and_any_separator(separator: str) -> None:
    lines = [
        separator.join(cells)
        for cells in (("Asset_No", " SUM "), ("A1", "5"), ("", ""), ("A2", "6"))
    ]
    table = read_table("\ufeff" + "\n".join(lines), "x.csv", FORM)

    assert [(row.line, dict(row.values)) for row in table.rows] == [
        (2, {"tag": "A1", "price": "5"}),
        (4, {"tag": "A2", "price": "6"}),
    ]
    assert table.remarks == ()


def test_a_column_without_a_heading_is_left_out_and_those_after_it_keep_their_values() -> (
    None
):
    table = read_table("tag, ,price\nA1,own mark,5\n", "x.csv", FORM)

    assert [dict(row.values) for row in table.rows] == [{"tag": "A1", "price": "5"}]
    assert table.remarks == ()


def test_what_cannot_be_read_is_named_by_its_line_and_the_rest_stays() -> None:
    table = read_table('tag,colour,tag\nA1,red,x\n"A2,blue\nA3,a,b,c\n', "x.csv", FORM)

    assert [(one.line, one.problem.split(",")[0]) for one in table.remarks] == [
        (1, "nothing is known of a column `colour`"),
        (1, "two columns are headed tag"),
        (3, "a quote on this line is not closed as it was opened"),
        (4, "there are 4 fields under 3 headings"),
    ]
    assert [row.values["tag"] for row in table.rows] == ["A1"]


@pytest.mark.parametrize(
    ("text", "told"),
    [("", "there is nothing in it"), ("price\n5\n", "no column is headed tag")],
)
def test_a_list_without_the_column_that_it_needs_is_none(text: str, told: str) -> None:
    table = read_table(text, "x.csv", FORM)

    assert table.rows == ()
    assert [one.problem for one in table.remarks] == [told]
