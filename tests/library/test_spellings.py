"""Spellings of parts and tools: one for each, found whatever the case and blanks."""

from __future__ import annotations

from kb.library.spellings import spelled, spellings


def test_every_name_is_found_in_capitals_and_with_blanks_around_it() -> None:
    for name in spellings().parts | spellings().tools:
        assert spelled(f"  {name.upper()} ") == name


def test_no_two_names_differ_by_case_or_blanks_alone() -> None:
    names = [*(spellings().parts | spellings().tools)]

    assert len({" ".join(name.split()).casefold() for name in names}) == len(names)
