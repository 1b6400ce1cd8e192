"""A machine on the simulated bench: it answers tests, takes fixes and counts the minutes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import Protocol

from kb.demo.complaints import complaint
from kb.demo.habits import Fault
from kb.diagnosis.case import OPENING_MINUTES, SEARCH_MINUTES
from kb.library.outcomes import outcome_probabilities
from kb.model import Entry, Fix, Outcome, Test


@dataclass(frozen=True, slots=True)
class Ticket:
    """A machine that comes to the bench: what is wrong with it, which nobody knows, and what was written on it."""

    number: int
    fault: Fault
    words: str


class Draws(Protocol):
    """Whatever gives the faults of a shop's machines."""

    def draw(self, rng: Random) -> Fault:
        """The fault of the next machine."""


def tickets(
    faults: Draws, heard: dict[str, Entry], count: int, seed: int
) -> list[Ticket]:
    """Machines with faults of the shop, under wordings of `heard`: entries that hold only what search never read."""
    rng = Random(f"tickets {seed}")
    drawn = []
    for number in range(count):
        fault = faults.draw(rng)
        drawn.append(
            Ticket(number, fault, complaint(heard[fault.entry.slug], rng, general=0.0))
        )
    return drawn


class Machine:
    """One ticket's machine while somebody works on it; the same test shows the same, whoever does it.

    No test is righter than `most_reliable`, whatever its entry says.
    """

    def __init__(self, ticket: Ticket, seed: int, most_reliable: float = 1.0) -> None:
        self.ticket = ticket
        self._seed = seed
        self._most_reliable = most_reliable
        self.minutes = 0.0
        self.fixed = False
        self.searched_on = False
        self.tests = 0
        self.tried: list[Fix] = []
        self.parts_in_vain = 0
        self.repeated = 0
        self.opened = False

    @property
    def first_fix_right(self) -> bool:
        """Whether the first repair that was done cured it."""
        return self.fixed and len(self.tried) == 1 and not self.searched_on

    def test(self, entry: Entry, test: Test) -> Outcome:
        """What the test shows; costs its minutes, and the opening if the cover was still on."""
        self._spend(test.minutes, test.cover_off)
        self.tests += 1
        cause = self._called_by(entry)
        true_to_life = replace(
            test, reliability=min(test.reliability, self._most_reliable)
        )
        chances = outcome_probabilities(true_to_life, cause, listed=bool(cause))
        rng = Random(f"{self._seed} {self.ticket.number} {entry.slug}/{test.slug}")
        return rng.choices(test.outcomes, chances)[0]

    def repair(self, entry: Entry, fix: Fix) -> bool:
        """Whether the fix cured it; costs its minutes either way."""
        self._spend(fix.minutes, fix.cover_off)
        self.repeated += self.was_tried(fix)
        self.tried.append(fix)
        self.fixed = self._called_by(entry) in fix.causes
        self.parts_in_vain += bool(fix.parts) and not self.fixed
        return self.fixed

    def search_on(self) -> None:
        """Look beyond what is listed until the cause is found, and fix it; every policy ends here at the latest."""
        fault = self.ticket.fault
        fix = fault.entry.fix_for(fault.cause)
        self._spend(SEARCH_MINUTES + (fix.minutes if fix else 0.0), True)
        self.searched_on = self.fixed = True

    def was_tried(self, fix: Fix) -> bool:
        """Whether the same repair was done before, maybe under another entry: same name, same parts."""
        return any(_alike(fix, done) for done in self.tried)

    def _called_by(self, entry: Entry) -> str:
        """The true cause as that entry names it, or empty: a worn pack is a worn pack under any entry."""
        fault = self.ticket.fault
        if entry.slug == fault.entry.slug:
            return fault.cause
        fix, true_fix = entry.fix_for(fault.cause), fault.entry.fix_for(fault.cause)
        return fault.cause if fix and true_fix and _alike(fix, true_fix) else ""

    def _spend(self, minutes: float, inside: bool) -> None:
        self.minutes += minutes + (
            OPENING_MINUTES if inside and not self.opened else 0.0
        )
        self.opened = self.opened or inside


def _alike(one: Fix, other: Fix) -> bool:
    return (
        bool(one.parts)
        and one.parts == other.parts
        and bool(set(one.causes) & set(other.causes))
    )


def known_at_once(machine: Machine) -> None:
    """The floor: somebody knows the cause and only fixes it."""
    fault = machine.ticket.fault
    fix = fault.entry.fix_for(fault.cause)
    if fix is None:
        machine.search_on()
    else:
        machine.repair(fault.entry, fix)


def distinct(fixes: Sequence[Fix | None]) -> list[Fix]:
    """The fixes in their order, each once."""
    return list(dict.fromkeys(fix for fix in fixes if fix is not None))
