"""Ways of working on a machine until it is fixed: by the sheet, by frequency, and as the program advises."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from machine import Machine, distinct

from kb.bench.front import Bench
from kb.diagnosis.answer import Answer, Step
from kb.diagnosis.case import SoFar
from kb.model import WEIGHT_ODDS, Entry, Finding, Test

#: Nobody does more steps than this on one machine.
MOST_STEPS = 80

#: Gives the order in which the causes of an entry are tried, as a key that sorts the first one lowest.
Order = Callable[[Entry, str], tuple[float, ...]]


def by_the_sheet(
    machine: Machine, entries: Sequence[Entry], thorough: bool = True
) -> None:
    """Each sheet from top to bottom: its tests in its order until one suspect is left, then that one's fix.

    The thorough repair at last whatever the tests have not cleared; the wary only what a test points to.
    """
    for entry in entries:
        _work_off(machine, entry, thorough)
        if machine.fixed:
            return
    machine.search_on()


def fixes_in_order(machine: Machine, entries: Sequence[Entry], order: Order) -> None:
    """No test at all: the fixes of every sheet, one after another in that order of their causes."""
    for entry in entries:
        causes = sorted(
            (cause.slug for cause in entry.causes), key=lambda slug: order(entry, slug)
        )
        if _fix(machine, entry, causes):
            return
    machine.search_on()


def by_weight(entry: Entry, slug: str) -> tuple[float, ...]:
    """The most frequent cause first, by the entry's own words often, sometimes, rare."""
    cause = entry.cause(slug)
    return (-WEIGHT_ODDS[cause.weight] if cause else 0.0,)


def by_count(answer: Answer) -> Order:
    """The most frequent cause first: as counted on this model, then on the others, then by the entry's words."""
    causes = [cause for one in answer.entries for cause in one.causes]
    counted = {
        cause.cause: (-cause.confirmed_here, -cause.confirmed_elsewhere)
        for cause in causes
    }
    return lambda entry, slug: (
        *counted[f"{entry.slug}/{slug}"],
        *by_weight(entry, slug),
    )


def by_weight_a_minute(entry: Entry, slug: str) -> tuple[float, ...]:
    """Most belief a minute of fixing first, by the entry's own words (Smith's rule, for repairs alone)."""
    fix = entry.fix_for(slug)
    return (by_weight(entry, slug)[0] / fix.minutes if fix else 0.0,)


def as_advised(
    machine: Machine, bench: Bench, entries: Mapping[str, Entry], first: Step | None
) -> None:
    """Whatever the program advises, step by step; the first step was in the answer to the words alone."""
    words, model = machine.ticket.words, machine.ticket.fault.model
    findings: list[Finding] = []
    failed: list[str] = []
    step = first
    for _ in range(MOST_STEPS):
        entry = entries.get(step.entry) if step else None
        if step is None or entry is None:
            break
        test, fix = entry.test(step.name), entry.fix_for(step.name)
        if step.kind == "test" and test:
            findings.append(
                Finding(f"{entry.slug}/{test.slug}", machine.test(entry, test).text)
            )
        elif step.kind == "fix" and fix:
            if machine.repair(entry, fix):
                return
            failed.append(f"{entry.slug}/{step.name}")
        at = SoFar(failed=tuple(failed), opened=machine.opened)
        step = bench.asking.search(
            words, model, findings=findings, limit=1, at=at
        ).next_step
    machine.search_on()


def _work_off(machine: Machine, entry: Entry, thorough: bool) -> None:
    """One sheet: tests that speak of a suspect, its fix once it stands alone; at the end the fixes of the suspects.

    What a test has cleared is not repaired.
    """
    left = [cause.slug for cause in entry.causes]
    suspects, pointed_at = left, False
    for test in entry.tests:
        if not _speaks_of(test, suspects):
            continue
        shown = machine.test(entry, test)
        left = [cause for cause in left if cause not in shown.clears] or left
        pointed_to = [cause for cause in suspects if cause in shown.points_to]
        suspects = pointed_to or [cause for cause in suspects if cause in left] or left
        pointed_at = pointed_at or bool(pointed_to)
        if len(suspects) == 1 and (thorough or pointed_to):
            if _fix(machine, entry, suspects):
                return
            left = [cause for cause in left if cause not in suspects]
            suspects, pointed_at = left, False
    if thorough or pointed_at:
        _fix(machine, entry, left if thorough else suspects)


def _speaks_of(test: Test, suspects: Sequence[str]) -> bool:
    return any(
        cause in suspects
        for outcome in test.outcomes
        for cause in (*outcome.points_to, *outcome.clears)
    )


def _fix(machine: Machine, entry: Entry, causes: Sequence[str]) -> bool:
    """The fixes of these causes in turn, none that was done before, until the machine works."""
    for fix in distinct([entry.fix_for(cause) for cause in causes]):
        if not machine.was_tried(fix) and machine.repair(entry, fix):
            return True
    return False
