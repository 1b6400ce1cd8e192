"""The model of entries and jobs: what is looked up in them by name, and what they say of themselves."""

from __future__ import annotations

from helpers.marked import GATED

from kb.library.markdown import parse
from kb.model import Entry, Job, Unread, told_of_unread


def sheet() -> Entry:
    entry = parse(GATED, "tingles").entry
    assert entry
    return entry


def test_causes_tests_and_fixes_are_found_by_their_names_and_only_by_them() -> None:
    entry = sheet()

    for cause in entry.causes:
        assert entry.cause(cause.slug) is cause
    for test in entry.tests:
        assert entry.test(test.slug) is test
    assert (entry.cause("gone"), entry.test("gone"), entry.fix_for("gone")) == (
        None,
        None,
        None,
    )
    for fix in entry.fixes:
        assert all(entry.fix_for(cause) is fix for cause in fix.causes)


def test_what_a_step_comes_after_is_told_by_number() -> None:
    entry = sheet()

    assert entry.comes_after(entry.tests[0]) == ()
    assert entry.comes_after(entry.fixes[1]) == tuple(
        number
        for number, test in enumerate(entry.tests, 1)
        if test.slug in entry.fixes[1].after
    )
    assert entry.comes_after(entry.fixes[1])


def test_deeds_and_dangers_stand_apart() -> None:
    assert sheet().deeds == ("Pull the charger at the wall.",)
    assert sheet().dangers == ("it tingles", "a shock")


def test_a_job_belongs_to_the_entry_of_its_cause() -> None:
    assert (
        Job("j", "Tern 13", "no-battery/pack", "2026-01-01T00:00:00Z").entry
        == "no-battery"
    )


def test_many_unread_files_are_told_in_one_sentence() -> None:
    unread = [
        Unread(f"{name}.md", 1, "it has no causes", stands_in=True)
        for name in ("a", "b", "c", "d")
    ]

    assert "a.md" in told_of_unread(unread[:1])
    assert told_of_unread([]) == ""
    assert told_of_unread(unread).count("benchlore check") == 1
