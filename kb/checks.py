"""What an entry must have beyond its form: parts with one spelling, tests that part the causes, wordings of its own."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import replace

from kb.likelihood import expected_outcomes
from kb.model import Entry, Remark
from kb.trade import spellings

#: Groups of causes up to this size may stay undivided without a word.
LARGEST_SILENT_GROUP = 2
LEAST_SYMPTOMS, LEAST_CAUSES, LEAST_TESTS, LEAST_WORDINGS = 4, 3, 3, 24


def inspect(entry: Entry, file: str = "") -> list[Remark]:
    """Wishes for one entry: stray spellings, thin sections, groups of causes that no test parts."""
    file = file or f"{entry.slug}.md"
    found = [*_thin(entry, file), *_stray_spellings(entry, file), *_undivided(entry, file), *_order(entry, file)]
    return [replace(remark, wish=True) for remark in found]


def inspect_library(entries: Iterable[Entry]) -> list[Remark]:
    """Remarks that need all entries: a wording that stands twice (a wish), a neighbour that does not exist."""
    entries = list(entries)
    slugs = {entry.slug for entry in entries}
    owner: dict[str, str] = {}
    remarks = []
    for entry in entries:
        file = f"{entry.slug}.md"
        for wording in (*entry.wordings, *entry.symptoms):
            key = " ".join(wording.casefold().split())
            if owner.setdefault(key, entry.slug) != entry.slug:
                remarks.append(
                    Remark(
                        file,
                        1,
                        f"`{wording[:60]}` stands in {owner[key]} too",
                        "say in it what tells the two apart",
                        wish=True,
                    )
                )
        remarks += [
            Remark(file, near.line, f"there is no entry `{near.slug}`", "name an existing entry")
            for near in entry.neighbours
            if near.slug not in slugs
        ]
    return remarks


def ambiguity_groups(entry: Entry) -> list[tuple[str, ...]]:
    """The groups of causes that all listed tests together leave untold apart, in the entry's order.

    Two causes are told apart when some test expects different outcomes of them.
    """
    patterns: dict[tuple[frozenset[int], ...], list[str]] = {}
    for cause in entry.causes:
        pattern = tuple(expected_outcomes(test, cause.slug) for test in entry.tests)
        patterns.setdefault(pattern, []).append(cause.slug)
    return [tuple(group) for group in patterns.values() if len(group) > 1]


def _thin(entry: Entry, file: str) -> list[Remark]:
    counted = (
        ("Symptom", len(entry.symptoms), LEAST_SYMPTOMS),
        ("Likely causes", len(entry.causes), LEAST_CAUSES),
        ("Cheapest test first", len(entry.tests), LEAST_TESTS),
        ("Also heard as", len(entry.wordings), LEAST_WORDINGS),
    )
    return [
        Remark(file, _line_of(entry, heading), f"`{heading}` has {count}", f"write {least} or more")
        for heading, count, least in counted
        if count < least
    ] + [
        Remark(file, _line_of(entry, "Also heard as"), f"`{wording[:60]}` stands twice", "keep one of the two")
        for i, wording in enumerate(entry.wordings)
        if wording in entry.wordings[:i]
    ]


def _stray_spellings(entry: Entry, file: str) -> list[Remark]:
    parts, tools = spellings().parts, spellings().tools
    named = [(part, fix.line, parts) for fix in entry.fixes for part in fix.parts]
    named += [(need, fix.line, tools) for fix in entry.fixes for need in fix.needs]
    named += [(need, test.line, parts | tools) for test in entry.tests for need in test.needs]
    remarks = []
    for name, line, known in named:
        if name not in known:
            near = difflib.get_close_matches(name, sorted(known), 1)
            instead = f"write `{near[0]}`" if near else "use a name from kb/parts.toml"
            remarks.append(Remark(file, line, f"`{name}` is not a known part or tool", instead))
    return remarks


def _undivided(entry: Entry, file: str) -> list[Remark]:
    excused = [set(group.causes) for group in entry.undivided]
    return [
        Remark(
            file, _line_of(entry, "Cheapest test first"), f"no test tells {', '.join(group)} apart",
            "add an outcome that does, or say why under `Not told apart`",
        )
        for group in ambiguity_groups(entry)
        if len(group) > LARGEST_SILENT_GROUP and not any(set(group) <= excuse for excuse in excused)
    ]  # fmt: skip


def _order(entry: Entry, file: str) -> list[Remark]:
    return [
        Remark(
            file, later.line, f"`{later.title[:50]}` is cheaper than the test before it", "put the cheaper test first"
        )
        for earlier, later in zip(entry.tests, entry.tests[1:], strict=False)
        if later.minutes < earlier.minutes and later.cover_off <= earlier.cover_off
    ]


def _line_of(entry: Entry, heading: str) -> int:
    return next((section.line for section in entry.sections if section.heading == heading), 1)
