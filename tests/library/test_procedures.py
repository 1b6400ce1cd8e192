"""The procedures of the house: the shipped board swap, what `check` says of fixes without it, and torn files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from kb.library import procedures
from kb.library.checks import inspect_customs
from kb.library.customs import PROCEDURES, Customs, shipped_customs
from kb.model import Entry

SWAP = "board swap"


def test_the_board_swap_begins_with_the_locks_of_the_donor_and_tries_every_port_when_all_is_fitted() -> (
    None
):
    steps = shipped_customs().procedures().by_name[SWAP].steps
    told = [procedures.short(step) for step in steps]

    assert "rightful owner" in steps[0]
    assert (
        told.index("Save recovery key and data")
        < told.index("Move it over")
        < told.index("Every port again")
    )
    assert all(len(short.split()) <= 6 for short in told)


def test_every_fix_of_the_library_that_fits_a_mainboard_refers_to_the_board_swap(
    library: tuple[Entry, ...],
) -> None:
    swaps = [
        fix for entry in library for fix in entry.fixes if "mainboard" in fix.parts
    ]
    known = shipped_customs().procedures()

    assert len(swaps) >= 75
    assert all(known.steps_of(fix) for fix in swaps)
    assert not any("all ports" in fix.text for fix in swaps)


def test_a_swap_that_does_not_refer_to_it_is_a_wish_with_its_line(
    library: tuple[Entry, ...],
) -> None:
    entry = next(entry for entry in library if entry.slug == "dies-when-unplugged")
    alone = replace(entry, fixes=tuple(replace(fix, act="") for fix in entry.fixes))
    fix = next(fix for fix in entry.fixes if "mainboard" in fix.parts)

    assert inspect_customs(entry, shipped_customs()) == []
    (remark,) = inspect_customs(alone, shipped_customs())
    assert remark.wish
    assert remark.line == fix.line
    assert "act board swap" in remark.instead


def test_what_is_wrong_in_the_file_is_named_by_line() -> None:
    read = procedures.parse(
        "- **swap** (part fan; 3 min): so\n    - Do it\n- **bare** (part fan): so\n- none of it\n"
    )

    assert sorted(remark.line for remark in read.remarks) == [1, 1, 3, 4]
    assert list(read.by_name) == ["swap"]


def test_a_shop_has_steps_of_its_own(tmp_path: Path) -> None:
    own = tmp_path / "house" / PROCEDURES
    own.parent.mkdir()
    own.write_text(
        "- **board swap** (part mainboard): ours\n    - Ask first: the owner.\n"
    )

    assert Customs(None, tmp_path).procedures().by_name[SWAP].steps == (
        "Ask first: the owner.",
    )
