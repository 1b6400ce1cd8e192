"""Writing a sheet and reading it again gives the same sheet."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.marked import GATED
from helpers.places import CASES
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.library.markdown import parse
from kb.library.writing import write
from kb.model import Entry


def test_a_sheet_with_every_mark_comes_back_equal_from_its_canonical_text(
    marked: Entry,
) -> None:
    again = parse(write(replace(marked, sections=())), "no-light")

    assert again.remarks == ()
    assert again.entry == marked


GOOD = (CASES / "nothing-wrong.md").read_text().partition("<!-- remarks -->")[0]


@pytest.mark.slow
def test_every_shipped_entry_comes_back_equal_from_its_canonical_text(
    library: tuple[Entry, ...],
) -> None:
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
    st.characters(
        codec="utf-8",
        exclude_categories=["Cs", "Cc", "Zl", "Zp", "Zs"],
        exclude_characters="\\<>&*_`[]!",
    ),
    min_size=1,
    max_size=30,
)


@pytest.mark.slow
@settings(max_examples=150, deadline=None)
@given(
    symptoms=st.lists(_line, min_size=1, max_size=4, unique=True),
    wordings=st.lists(_line, max_size=4, unique=True),
)
def test_parse_write_parse_is_the_identity(
    symptoms: list[str], wordings: list[str]
) -> None:
    entry = parse(GOOD, "a-case").entry
    assert entry is not None
    once = parse(
        write(replace(entry, symptoms=tuple(symptoms), wordings=tuple(wordings))),
        "a-case",
    ).entry
    assert once is not None

    assert parse(write(once), "a-case").entry == once
    assert len(once.symptoms) == len(symptoms)


def test_a_sheet_written_anew_has_what_is_done_at_once_right_after_the_symptom(
    waiting: Entry,
) -> None:
    text = write(replace(waiting, sections=()))

    assert text == GATED


def test_what_is_done_at_once_is_added_to_a_file_right_after_the_symptom(
    waiting: Entry,
) -> None:
    without = parse(write(replace(waiting, sections=(), at_once=())), "tingles").entry
    assert without is not None

    assert write(replace(without, at_once=waiting.at_once)) == GATED


def test_numbers_follow_when_a_test_moves(waiting: Entry) -> None:
    """The fixes themselves say the same as before; what they come after stands elsewhere now."""
    look, feed, measure = waiting.tests

    moved = write(replace(waiting, tests=(look, measure, feed)))

    assert "2. Measure the insulation (6 min; needs earth tester)" in moved
    assert "3. Plug it in on the tested circuit (3 min; after 2)" in moved
    again = parse(moved, "tingles").entry
    assert again is not None
    assert again.fixes == waiting.fixes
