"""Entries read from Markdown: every problem named by line, nothing lost on the way back."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from helpers.places import CASES
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.library.markdown import parse
from kb.library.writing import write
from kb.model import Entry
from webui.rendering import to_html, to_inline_html

ALL_CASES = sorted(CASES.glob("*.md"))
GOOD = (CASES / "nothing-wrong.md").read_text().partition("<!-- remarks -->")[0]


@pytest.mark.parametrize("case", ALL_CASES, ids=lambda path: path.stem)
def test_each_case_gives_exactly_its_remarks(case: Path) -> None:
    text, _, expected = case.read_text().partition("<!-- remarks -->\n")

    parsed = parse(text, "a-case")

    assert [f"{remark.line}: {remark.problem}" for remark in parsed.remarks] == expected.splitlines()
    assert all(remark.instead for remark in parsed.remarks)


def test_a_broken_entry_is_still_served_when_title_symptom_and_cause_are_there() -> None:
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
    text = GOOD.replace("(3 min)", "(3.5 min; cover off; needs multimeter, battery; 9 in 10)")
    entry = parse(text, "a-case").entry

    assert entry is not None
    test = entry.tests[0]
    assert (test.minutes, test.cover_off, test.needs, test.reliability) == (3.5, True, ("multimeter", "battery"), 0.9)


def test_every_shipped_entry_comes_back_equal_from_its_canonical_text(library: tuple[Entry, ...]) -> None:
    for entry in library:
        again = parse(write(replace(entry, sections=())), entry.slug)

        assert again.entry == entry, entry.slug
        assert again.remarks == (), entry.slug


def test_unknown_sections_and_comments_survive_an_edit() -> None:
    text = GOOD + "\n## Pictures\n\n![board](board.png)\n\n<!-- ask Jo about this -->\n"
    text = text.replace("- no life\n", "- no life\n<!-- more to come -->\n")
    entry = parse(text, "a-case").entry
    assert entry is not None

    edited = write(replace(entry, wordings=(*entry.wordings, "stone dead")))

    assert "## Pictures\n\n![board](board.png)" in edited
    assert "<!-- ask Jo about this -->" in edited
    assert "<!-- more to come -->" in edited
    assert "- stone dead" in edited


def test_an_unchanged_entry_is_written_back_to_the_letter() -> None:
    entry = parse(GOOD, "a-case").entry
    assert entry is not None

    assert write(entry) == GOOD


_line = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cs", "Cc", "Zl", "Zp", "Zs"], exclude_characters="\\<>&*_`[]!"),
    min_size=1,
    max_size=30,
)


@settings(max_examples=150, deadline=None)
@given(symptoms=st.lists(_line, min_size=1, max_size=4, unique=True), wordings=st.lists(_line, max_size=4, unique=True))
def test_parse_write_parse_is_the_identity(symptoms: list[str], wordings: list[str]) -> None:
    entry = parse(GOOD, "a-case").entry
    assert entry is not None
    once = parse(write(replace(entry, symptoms=tuple(symptoms), wordings=tuple(wordings))), "a-case").entry
    assert once is not None

    assert parse(write(once), "a-case").entry == once
    assert len(once.symptoms) == len(symptoms)


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=400))
def test_no_text_whatever_makes_the_reader_fail(text: str) -> None:
    for remark in parse(text, "a-case").remarks:
        assert remark.line >= 1


def test_html_in_an_entry_is_shown_as_text() -> None:
    shown = to_html('<script>alert(1)</script> <img src=x onerror="alert(1)">')

    assert "<script" not in shown
    assert "<img" not in shown


@pytest.mark.parametrize(
    "target",
    ["javascript:alert(1)", "data:text/html,x", "vbscript:x", "file:///etc/passwd", "data:image/png;base64,AA"],
)
def test_a_link_with_another_scheme_than_http_is_not_made(target: str) -> None:
    assert "href" not in to_inline_html(f"[x]({target})")


def test_a_remote_picture_is_shown_as_its_description() -> None:
    assert to_html("![the board](https://elsewhere.example/x.png)") == "<p>the board</p>\n"
    assert "<img" in to_html("![the board](pictures/board.png)")


def test_a_comment_is_not_shown() -> None:
    assert to_html("seat it <!-- Jo says: twice -->").strip() == "<p>seat it</p>"
