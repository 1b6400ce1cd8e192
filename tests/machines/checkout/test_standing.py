"""How the lines of a check-out stand on machines made of records: stale by depth and part, mended by their own job."""

from __future__ import annotations

import pytest
from helpers.looked import LINES, PARTS, all_good, shown, stands, states, unit, worked

from kb.history.units import Moved
from kb.library.checklist import CheckLine
from kb.machines.checkout.standing import Depths, LineState
from kb.model import Entry


def stale_after(part: str) -> set[str]:
    return {
        name
        for name, state in states(all_good((worked(20, part),))).items()
        if state == "stale"
    }


def test_a_line_that_nobody_looked_at_is_open() -> None:
    assert set(states(unit([])).values()) == {"open"}


def test_lines_stand_as_they_showed_last() -> None:
    seen = states(
        unit(
            [
                shown("pad", "good", 1),
                shown("camera", "not-there", 2),
                shown("card-reader", "waived", 3),
            ]
        )
    )

    assert (seen["pad"], seen["camera"], seen["card-reader"]) == (
        "good",
        "not there",
        "waived",
    )


def test_a_new_keyboard_makes_stale_what_sits_as_deep_and_the_closing_but_neither_lid_nor_law() -> (
    None
):
    stale = stale_after("keyboard")

    assert {"pad", "charging-socket", "charges", "heat", "close-up"} <= stale
    assert stale.isdisjoint(
        {"screen", "camera", "look", "wiped", "locks-absent", "install"}
    )


def test_a_new_panel_makes_stale_all_but_law_and_installation() -> None:
    assert stale_after("panel") == {line.name for line in LINES} - {
        "wiped",
        "locks-absent",
        "install",
    }


def test_another_drive_has_to_be_wiped_and_installed_again() -> None:
    stale = stale_after("M.2 drive")

    assert {
        "wiped",
        "install",
        "drivers-and-licence",
        "sleep-and-wake",
        "hour-on-battery",
        "close-up",
    } <= stale
    assert "every-key" not in stale


def test_another_mainboard_has_to_be_looked_at_for_locks() -> None:
    assert "locks-absent" in stale_after("mainboard")


def test_another_charger_makes_nothing_stale(library: tuple[Entry, ...]) -> None:
    fixes = (
        (entry.slug, fix)
        for entry in library
        for fix in entry.fixes
        if fix.parts == ("charger",)
    )
    outside = next(
        f"{slug}/{fix.causes[0]}" for slug, fix in fixes if not fix.cover_off
    )

    assert set(
        states(all_good((worked(20, "charger", fix=outside),)), library).values()
    ) == {"good"}


def test_what_was_done_before_a_line_was_shown_does_not_matter() -> None:
    assert set(states(all_good((worked(5, "panel"),))).values()) == {"good"}


def test_a_part_taken_out_reaches_as_deep_as_one_fitted() -> None:
    out = Moved(
        part="touchpad", donor="P7", tag="P9", good="yes", record="r", at="", seq=20
    )

    assert states(all_good(moved=(out,)))["every-key"] == "stale"


def test_a_waived_line_stays_waived_whatever_is_repaired() -> None:
    assert (
        states(unit([shown("pad", "waived", 1)], (worked(20, "panel"),)))["pad"]
        == "waived"
    )


def test_a_failed_line_is_mended_by_its_own_job_alone() -> None:
    failed = [shown("every-key", "bad", 10, job="j1")]

    assert states(unit(failed))["every-key"] == "failed"
    assert (
        states(unit(failed, (worked(20, "fan", job="j2"),), job="j2"))["every-key"]
        == "failed"
    )
    mended = stands(unit(failed, (worked(20, "keyboard"),), job="j1"))["every-key"]
    assert mended.state is LineState.GOOD
    assert mended.proven_by is not None


def test_a_mended_line_goes_stale_with_the_next_deep_repair() -> None:
    failed = [shown("every-key", "bad", 10, job="j1")]

    after = unit(
        failed, (worked(20, "keyboard"), worked(30, "mainboard", job="j2")), job="j1"
    )

    assert states(after)["every-key"] == "stale"


def test_a_fix_without_a_part_goes_as_deep_as_its_sheet_says(
    library: tuple[Entry, ...],
) -> None:
    """With the cover off it reaches what lies under it; a fix from outside reaches nothing."""
    outside, inside = _fix(library, cover_off=False), _fix(library, cover_off=True)

    assert states(all_good((worked(20, fix=inside),)), library)["close-up"] == "stale"
    assert set(states(all_good((worked(20, fix=outside),)), library).values()) == {
        "good"
    }


def _fix(library: tuple[Entry, ...], cover_off: bool) -> str:
    for entry in library:
        for fix in entry.fixes:
            if fix.cover_off == cover_off and not fix.parts:
                return f"{entry.slug}/{fix.causes[0]}"
    pytest.fail("no such fix in the library")


def test_a_part_that_neither_machine_nor_list_knows_lies_under_the_cover() -> None:
    lines = (CheckLine(name="x", text="", parts=("fingerprint reader",), depth=2),)
    depths = Depths("Tern 13", PARTS, lines, lambda slug: None)

    assert depths.of_part("fingerprint reader") == 2
    assert depths.of_part("security module") == 1
    assert depths.of_part("panel") == 3
