"""Spreadsheets of old jobs: read as they were written, refused in a sentence where they cannot be."""

from __future__ import annotations

import pytest

from kb.base.trouble import Refusal
from kb.history import spreadsheet

HEAD = b"Machine;Date;Complaint;Mood\n"


def test_columns_are_found_by_their_headings_and_the_others_are_named() -> None:
    sheet = spreadsheet.read(
        HEAD + b"Tern 13;3/4/2024;no  light;good\n;;;\n", {}, "old.csv"
    )

    assert sheet.separator == "semicolon"
    assert sheet.headings == {"model": "Machine", "day": "Date", "words": "Complaint"}
    assert sheet.left_out == ("Mood",)
    (row,) = sheet.rows
    assert (row.line, row.values) == (
        2,
        {"model": "Tern 13", "day": "3/4/2024", "words": "no light"},
    )


def test_a_column_that_was_named_wins_over_its_heading() -> None:
    sheet = spreadsheet.read(
        HEAD + b"Tern 13;3/4/2024;no light;good\n", {"words": "mood"}, "old.csv"
    )

    assert sheet.headings["words"] == "Mood"
    assert sheet.left_out == ("Complaint",)


@pytest.mark.parametrize(
    ("data", "columns", "told"),
    [
        (b" \n", {}, "there is nothing in it"),
        (b"Date,Words\n", {}, "no column gives the model; .*--columns model=HEADING"),
        (b"Words,x\n", {}, "no column gives the model or the day"),
        (b"Model,Date\n", {}, "no column gives the words or the cause"),
        (HEAD, {"weather": "Mood"}, "there is no field `weather`"),
        (
            HEAD,
            {"cause": "Cause"},
            "no column is headed `Cause`; the headings are Machine, Date",
        ),
        (
            HEAD + b'Tern 13;3/4/2024;"no light;good\n',
            {},
            "line 2: a quote is not closed",
        ),
    ],
)
def test_what_cannot_be_read_is_refused_in_a_sentence(
    data: bytes, columns: dict[str, str], told: str
) -> None:
    with pytest.raises(Refusal, match=told):
        spreadsheet.read(data, columns, "old.csv")


def test_a_line_with_more_fields_than_headings_is_named_and_the_others_are_read() -> (
    None
):
    sheet = spreadsheet.read(
        HEAD + b"Tern 13;3/4/2024;dark;good;left over\nTern 13;3/4/2024;dark;good\n",
        {},
        "old.csv",
    )

    assert [(remark.line, remark.problem) for remark in sheet.remarks] == [
        (2, "there are 5 fields under 4 headings")
    ]
    assert [row.line for row in sheet.rows] == [3]
