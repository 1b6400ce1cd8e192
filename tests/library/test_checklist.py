"""The check-out list as it ships, and what is said of lines that are not in its form."""

from __future__ import annotations

import pytest

from kb.library import checklist
from kb.library.checklist import CheckList
from kb.library.customs import shipped_customs
from kb.library.shelf import stock_folder
from kb.model import Entry


@pytest.fixture(scope="module")
def shipped() -> CheckList:
    """The list that ships with the program."""
    return checklist.parse(
        (stock_folder() / "house" / "checkout.md").read_text("utf-8")
    )


def test_the_shipped_list_has_no_problem_and_at_least_28_lines(
    shipped: CheckList,
) -> None:
    assert shipped.remarks == ()
    assert len(shipped.checks) >= 28


def test_what_can_hurt_and_what_the_law_asks_stands_first(shipped: CheckList) -> None:
    assert [line.name for line in shipped.lines if line.first] == [
        "pack-flat",
        "locks-absent",
        "wiped",
    ]


def test_nothing_is_installed_before_the_drive_is_wiped(shipped: CheckList) -> None:
    install = shipped.line("install")

    assert install is not None
    assert "wiped" in install.after


def test_every_line_that_can_fail_names_sheets_and_parts_that_there_are(
    shipped: CheckList, library: tuple[Entry, ...]
) -> None:
    slugs = {entry.slug for entry in library}

    for line in shipped.checks:
        assert line.sheets, line.name
        assert set(line.sheets) <= slugs, line.name
        assert set(line.parts) <= shipped_customs().trade().parts, line.name


@pytest.mark.parametrize(
    ("written", "problem", "instead"),
    [
        ("- every key", "this line is not understood", "every-key"),
        ("- **keys** (2 hours): press all", "`2 hours` is not understood", "every-key"),
        ("- **keys** (sits 4): press all", "`sits 4` is not understood", "every-key"),
        (
            "- **keys** (ends 5 in 4): press all",
            "`ends 5 in 4` is not understood",
            "every-key",
        ),
        ("- **keys** (2 min)", "`keys` does not say what to do", "every-key"),
        ("- **keys** (after lid): press all", "there is no line `lid`", "name a line"),
        (
            "- **keys**: press all\n- **keys**: again",
            "`keys` stands twice",
            "another name",
        ),
    ],
)
def test_a_line_that_is_not_in_the_form_is_named_with_what_to_write(
    written: str, problem: str, instead: str
) -> None:
    (remark,) = checklist.parse(f"# Check-out\n\n{written}\n").remarks

    assert remark.problem == problem
    assert instead in remark.instead
    assert remark.line in (3, 4)
