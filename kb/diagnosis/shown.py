"""What was shown on a job: each finding with its sheet, test and outcome, and what they say of the machine."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from kb.model import Entry, EntryOf, Finding, Outcome, Test


@dataclass(frozen=True, slots=True)
class Shown:
    """A finding that can be read: its sheet, its test, and which of the outcomes it is."""

    entry: Entry
    test: Test
    place: int

    @property
    def outcome(self) -> Outcome:
        """What the test showed."""
        return self.test.outcomes[self.place]


def shown(finding: Finding, entry_of: EntryOf) -> Shown | None:
    """A finding with what its sheet says of it; None if the test or outcome is not known any more."""
    slug, _, name = finding.test.partition("/")
    entry = entry_of(slug)
    test = entry.test(name) if entry else None
    place = test.place_of(finding.outcome) if test else None
    if entry is None or test is None or place is None:
        return None
    return Shown(entry, test, place)


def all_shown(findings: Iterable[Finding], entry_of: EntryOf) -> list[Shown]:
    """The findings that can be read, in their order."""
    found = [shown(finding, entry_of) for finding in findings]
    return [one for one in found if one]


def sheets_seen(found: Iterable[Shown]) -> frozenset[str]:
    """The sheets to which the outcomes point."""
    return frozenset(slug for one in found for slug in one.outcome.sheets_seen)


def says_state(found: Sequence[Shown]) -> Shown | None:
    """The last finding that says what the machine does, None if none does."""
    return next((one for one in reversed(found) if one.outcome.machine), None)


def contradicts(entry: Entry, states: Collection[str]) -> bool:
    """Whether a machine in these states cannot have the fault of a sheet."""
    return bool(entry.machine and states) and set(entry.machine).isdisjoint(states)
