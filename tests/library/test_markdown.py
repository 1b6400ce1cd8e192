"""Entries read from Markdown: every problem named by line, nothing lost on the way back."""

from __future__ import annotations

from pathlib import Path

import pytest
from helpers.places import CASES
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.library.markdown import parse

ALL_CASES = sorted(CASES.glob("*.md"))
GOOD = (CASES / "nothing-wrong.md").read_text().partition("<!-- remarks -->")[0]


@pytest.mark.parametrize("case", ALL_CASES, ids=lambda path: path.stem)
def test_each_case_gives_exactly_its_remarks(case: Path) -> None:
    text, _, expected = case.read_text().partition("<!-- remarks -->\n")

    parsed = parse(text, "a-case")

    assert [
        f"{remark.line}: {remark.problem}" for remark in parsed.remarks
    ] == expected.splitlines()
    assert all(remark.instead for remark in parsed.remarks)


def test_a_broken_entry_is_still_served_when_title_symptom_and_cause_are_there() -> (
    None
):
    parsed = parse(GOOD.replace("Reseat it (3 min)", "Reseat it"), "a-case")

    assert parsed.entry is not None
    assert parsed.entry.tests == ()
    assert parsed.remarks


def test_a_byte_order_mark_and_windows_line_ends_change_nothing() -> None:
    plain = parse(GOOD, "a-case").entry

    assert parse("\ufeff" + GOOD.replace("\n", "\r\n"), "a-case").entry == plain


def test_a_front_matter_value_stays_the_text_it_is() -> None:
    for value in ("no", "1.10", "0755", "12:30", "1E18", "on"):
        entry = parse(GOOD.replace("title: A title", f"title: {value}"), "a-case").entry

        assert entry is not None
        assert entry.title == value


def test_test_attributes_are_read() -> None:
    text = GOOD.replace(
        "(3 min)", "(3.5 min; cover off; needs multimeter, battery; 9 in 10)"
    )
    entry = parse(text, "a-case").entry

    assert entry is not None
    test = entry.tests[0]
    assert (test.minutes, test.cover_off, test.needs, test.reliability) == (
        3.5,
        True,
        ("multimeter", "battery"),
        0.9,
    )


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=400))
def test_no_text_whatever_makes_the_reader_fail(text: str) -> None:
    for remark in parse(text, "a-case").remarks:
        assert remark.line >= 1
