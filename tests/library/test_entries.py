"""Every shipped entry is what an entry must be; mend the entry, not the test."""

from __future__ import annotations

import re

import pytest

from kb.bench.front import Bench
from kb.library.checks import LARGEST_SILENT_GROUP, ambiguity_groups
from kb.library.customs import shipped_customs
from kb.model import Entry, Fix


@pytest.mark.slow
def test_the_check_has_nothing_to_remark_on(stock_bench: Bench) -> None:
    """Each test says what it shows with every cause, and standard acts take what they take everywhere."""
    assert [str(remark) for remark in stock_bench.entries.check()] == []


def test_the_library_holds_150_fault_pictures_and_some_of_every_area(
    library: tuple[Entry, ...],
) -> None:
    assert len(library) >= 150
    assert {entry.area for entry in library} == set(shipped_customs().trade().areas)


def test_each_entry_is_complete(library: tuple[Entry, ...]) -> None:
    for entry in library:
        assert len(entry.symptoms) >= 4, entry.slug
        assert 3 <= len(entry.causes) <= 8, entry.slug
        assert len(entry.tests) >= 3, entry.slug
        assert len(entry.wordings) >= 24, entry.slug
        assert entry.safety, entry.slug
        assert entry.neighbours, entry.slug
        assert all(entry.fix_for(cause.slug) for cause in entry.causes), entry.slug


def test_no_wording_stands_in_two_entries(library: tuple[Entry, ...]) -> None:
    seen: dict[str, str] = {}
    for entry in library:
        for wording in {
            " ".join(w.casefold().split()) for w in (*entry.wordings, *entry.symptoms)
        }:
            assert seen.setdefault(wording, entry.slug) == entry.slug, wording


def test_no_two_causes_of_an_entry_are_the_same_thing(
    library: tuple[Entry, ...],
) -> None:
    for entry in library:
        said = [
            frozenset(re.findall(r"[a-z]{4,}", cause.text.lower()))
            for cause in entry.causes
        ]
        assert len(set(said)) == len(said), entry.slug


def test_all_tests_together_leave_no_large_group_of_causes(
    library: tuple[Entry, ...],
) -> None:
    for entry in library:
        excused = [set(group.causes) for group in entry.undivided]
        for group in ambiguity_groups(entry):
            assert len(group) <= LARGEST_SILENT_GROUP or any(
                set(group) <= one for one in excused
            ), entry.slug


def test_what_proves_a_fix_is_said_of_that_fix_alone(
    library: tuple[Entry, ...],
) -> None:
    """No proof is another one of its entry in part or in whole: a firmware update and a board need different ones."""
    for entry in library:
        proofs = {fix.causes: _words_of_the_proof(fix) for fix in entry.fixes}
        for causes, words in proofs.items():
            others = [other for of, other in proofs.items() if of != causes]
            assert words, f"{entry.slug}: {causes} is proved by nothing"
            assert not any(words <= other for other in others), (
                f"{entry.slug}: {causes} is proved as another is"
            )


def _words_of_the_proof(fix: Fix) -> frozenset[str]:
    proof = fix.text.partition("Afterwards:")[2].partition("Honest workaround")[0]
    return frozenset(re.findall(r"\w+", proof.casefold()))


def test_every_sheet_is_reached_from_a_test_of_another(
    library: tuple[Entry, ...],
) -> None:
    """Else a fault that is told in a neighbour's words would be found by luck alone."""
    seen = {
        name.partition("/")[0]
        for entry in library
        for test in entry.tests
        for o in test.outcomes
        for name in o.see
    }

    assert {entry.slug for entry in library} - seen == set()


def test_minutes_are_plausible(library: tuple[Entry, ...]) -> None:
    for entry in library:
        assert all(0.5 <= test.minutes <= 60 for test in entry.tests), entry.slug
        assert all(1 <= fix.minutes <= 180 for fix in entry.fixes), entry.slug


def test_every_part_named_is_a_known_part(library: tuple[Entry, ...]) -> None:
    for entry in library:
        for fix in entry.fixes:
            assert set(fix.parts) <= shipped_customs().trade().parts, entry.slug


@pytest.mark.parametrize("measure", ["V", "Ω", "°C"])
def test_a_reading_says_where_it_comes_from(
    library: tuple[Entry, ...], measure: str
) -> None:
    """Volts, ohms and degrees in a test's detail stand with a mark: a source, "common practice" or "from memory"."""
    marks = re.compile(
        r"common practice|from memory|specification|data sheet|arithmetic|IEC|JESD|NIST|NIOSH|HSE|SFF|VESA|IEEE|ISO"
        r"|EN \d|USB|HDMI|limits?|label|rule|codes?",
        re.IGNORECASE,
    )
    for entry in library:
        for test in entry.tests:
            if re.search(rf"\d\s?{measure}\b", test.detail):
                assert marks.search(test.detail), f"{entry.slug}: {test.title}"
