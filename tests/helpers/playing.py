"""Jobs played from a sheet's own title: what is believed and proposed while its tests are answered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from kb.bench.front import Bench
from kb.diagnosis.answer import Answer, Step
from kb.diagnosis.case import UNTOUCHED
from kb.model import Entry, Finding, Outcome, Test

#: More steps than this are not played.
MOST_STEPS = 12


@dataclass(frozen=True, slots=True)
class Played:
    """An answer, and the findings on which it rests."""

    answer: Answer
    findings: tuple[Finding, ...]


def clearing(test: Test) -> str:
    """The outcome that clears most and points to nothing, here or elsewhere, as far as the test has such a one."""

    def says(outcome: Outcome) -> tuple[bool, bool, int]:
        return bool(outcome.see), bool(outcome.points_to), -len(outcome.clears)

    return min(test.outcomes, key=says).text


def related(entry: Entry) -> frozenset[str]:
    """A sheet, those it names as neighbours, and those to which its outcomes point."""
    near = [neighbour.slug for neighbour in entry.neighbours]
    return frozenset({entry.slug, *near, *entry.leads_to})


def played_clearing(bench: Bench, entry: Entry, words: str = "") -> Iterator[Played]:
    """What is answered while every test that is proposed clears and no fix helps, up to the advice to look further."""
    at = UNTOUCHED
    findings: list[Finding] = []
    for _ in range(MOST_STEPS):
        answer = bench.asking.search(
            words or entry.title, findings=tuple(findings), at=at, limit=8
        )
        yield Played(answer, tuple(findings))
        step = answer.next_step
        if step is None or step.kind == "else":
            return
        if step.kind == "fix":
            at = replace(at, failed=(*at.failed, f"{step.entry}/{step.name}"))
        else:
            findings.append(_cleared(bench, step))


def _cleared(bench: Bench, step: Step) -> Finding:
    """What the proposed test shows if it clears what it can."""
    sheet = bench.entries.entry(step.entry)
    test = sheet.test(step.name) if sheet else None
    assert test is not None
    return Finding(f"{step.entry}/{step.name}", clearing(test))
