"""The case put before the guide: likely causes, the tests and repairs left, and what was done on the job so far."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from heapq import nsmallest

from kb.base.worded import worded
from kb.diagnosis import guide
from kb.diagnosis.causes import Candidate, Diagnosis, Knowledge, likelihoods_of
from kb.diagnosis.shown import Shown, all_shown, says_state
from kb.library import gates, states
from kb.model import SOMETHING_ELSE, Entry, Finding, Fix, Test, named_fix, named_test

#: Taking the cover off, and putting it on again at the end (common practice).
OPENING_MINUTES = 5.0
#: Getting a part off the shelf or out of a donor before it can be fitted (common practice): fitting one on a guess
#: costs that too, so that a test is preferred where it is nearly as quick.
PART_MINUTES = 10.0
#: The share of a minute of waiting that is lost to the bench: another machine is worked on meanwhile, but this one has
#: to be set up, looked after and come back to, and it stays on the bench (assumption).
WAITING_COUNTS = 0.1
#: What it takes to find a cause that nothing here lists (assumption, stated in DEVELOPERS.md).
SEARCH_MINUTES = 60.0
#: What comes on top of a fix for which the machine has to run first, so that it is thought of last (assumption).
NOT_YET = 60.0
#: What stands for the fix of a cause whose sheet lists none, as one that a shop has only begun: it is known what it is,
#: not how it was mended; the minutes are an assumption.
UNWRITTEN_MINUTES = 20.0
UNWRITTEN = worded(
    "mend it as you know it: its fix is not written down yet; write it into the sheet afterwards"
)
#: The candidates that hold this share of belief are weighed; what is left counts as something else.
CONSIDERED = 0.99
MOST_CANDIDATES = 24
#: The causes weighed while the words are still being typed.
FEW_CANDIDATES = 12
#: Tests of entries that hold less than this share of the belief are not offered: in the simulated shop they cost as
#: much as they gained, and read oddly.
LEAST_SHARE = 0.1
MOST_TESTS = 40


@dataclass(frozen=True, slots=True)
class SoFar:
    """What has been done on this job, and the tools and parts that this bench lacks.

    `failed` are fixes that did not help, by the name of a cause they cure; `skipped` are tests that could
    not be done, both as `entry/name`. Where `lacks` is not said (None), the front door puts in what the shop lacks.
    """

    findings: Sequence[Finding] = ()
    failed: Sequence[str] = ()
    skipped: Sequence[str] = ()
    opened: bool = False
    lacks: frozenset[str] | None = None


#: A job on which nothing was done yet.
UNTOUCHED = SoFar()


def bench_minutes(step: Test | Fix) -> float:
    """The minutes that a step takes from the bench: hands-on, and a small share of the waiting.

    >>> bench_minutes(Test("pass", "One memory pass", 3, (), wait=45))
    7.5
    """
    return step.minutes + WAITING_COUNTS * step.wait


@dataclass(frozen=True, slots=True)
class Trial:
    """A test of an entry as the guide sees it; `waits` are the tests that are to be answered before it."""

    entry: str
    test: Test
    waits: tuple[Test, ...] = ()

    @property
    def name(self) -> str:
        """`entry/test`."""
        return f"{self.entry}/{self.test.slug}"

    @property
    def whole(self) -> tuple[Test, ...]:
        """The test with those before it."""
        return (*self.waits, self.test)

    @property
    def called(self) -> str:
        """What it is called in a sentence."""
        return worded("the test “{title}”", title=self.test.title)

    @property
    def minutes(self) -> float:
        """Bench minutes with those of the tests before it."""
        return sum(map(bench_minutes, self.whole))

    @property
    def inside(self) -> bool:
        """Whether the cover has to come off for it or for a test before it."""
        return any(test.cover_off for test in self.whole)

    @property
    def measures(self) -> bool:
        """Whether it or a test before it needs a tool with which one measures."""
        return any(test.measures for test in self.whole)


@dataclass(frozen=True, slots=True)
class CaseRepair:
    """A fix of an entry as the guide sees it; without a fix it is the search beyond what is listed.

    `waits` are the tests that are to be answered before it.
    """

    entry: str
    fix: Fix | None
    cures: str = ""
    waits: tuple[Test, ...] = ()

    @property
    def called(self) -> str:
        """What it is called in a sentence."""
        return worded("the fix for “{cures}”", cures=self.cures)

    @property
    def whole(self) -> tuple[Test | Fix, ...]:
        """The fix with the tests before it; nothing for the search."""
        return (*self.waits, self.fix) if self.fix else ()

    @property
    def minutes(self) -> float:
        """Bench minutes, what getting the parts takes, and the tests that come before it."""
        if self.fix is None:
            return SEARCH_MINUTES
        before = sum(map(bench_minutes, self.waits))
        return bench_minutes(self.fix) + PART_MINUTES * bool(self.fix.parts) + before

    @property
    def inside(self) -> bool:
        """Whether the cover has to come off for it or for a test before it."""
        return self.fix is None or any(step.cover_off for step in self.whole)


@dataclass(frozen=True, slots=True)
class Held:
    """A test that cannot be left out now, and why."""

    one: Trial
    why: str


@dataclass(frozen=True)
class AdviceQuestion:
    """What is asked of the advice: the belief and its likeliest causes, the entries, and what was done on the job.

    `held` is a test that is done next, whatever would be better.
    """

    diagnosis: Diagnosis
    likely: Sequence[Candidate]
    knowledge: Knowledge
    at: SoFar
    effort: float
    held: Held | None = None

    def answered(self, slug: str) -> frozenset[str]:
        """The tests of that entry that showed something, or will have when the held one is done."""
        names = [finding.test for finding in self.at.findings]
        if self.held:
            names.append(self.held.one.name)
        of_entry = f"{slug}/"
        return frozenset(
            name.removeprefix(of_entry) for name in names if name.startswith(of_entry)
        )

    @cached_property
    def shown(self) -> list[Shown]:
        """The findings that can be read."""
        return all_shown(self.at.findings, self.knowledge.entry)

    @cached_property
    def states(self) -> tuple[str, ...]:
        """The states in which the machine can be, by the last outcome that says so, else by the likeliest sheet.

        Empty if neither says anything.
        """
        last = says_state(self.shown)
        if last:
            return last.outcome.machine
        entry = self.knowledge.entry(self.diagnosis.likeliest)
        return entry.machine if entry else ()

    @cached_property
    def alarmed(self) -> bool:
        """Whether a look that comes before everything has shown what it looks for, such as a bulging pack."""
        looked = (one.outcome for one in self.shown if one.test.first)
        return any(outcome.points_to or outcome.see for outcome in looked)

    def can_be_done(self, steps: Iterable[Test | Fix]) -> bool:
        """Whether the machine does what these steps need of it."""
        return all(states.can_be_done(step, self.states) for step in steps)

    def missing(self, needs: Collection[str]) -> tuple[str, ...]:
        """What of the needs the bench lacks."""
        lacks = self.at.lacks or ()
        return tuple(need for need in dict.fromkeys(needs) if need in lacks)

    def missing_for(self, one: Trial) -> tuple[str, ...]:
        """What the bench lacks for a test and those before it."""
        return self.missing([need for test in one.whole for need in test.needs])

    def can_try(self, one: Trial) -> bool:
        """Whether bench and machine have what a test and those before it need, and none of them was set aside."""
        is_set_aside = any(
            f"{one.entry}/{test.slug}" in self.at.skipped for test in one.whole
        )
        return (
            not is_set_aside
            and not self.missing_for(one)
            and self.can_be_done(one.whole)
        )


@dataclass(frozen=True, slots=True)
class Case:
    """The guide's problem with the names of its numbers; a held test is the first of its tests."""

    problem: guide.Problem
    candidates: tuple[Candidate, ...]
    tests: tuple[Trial, ...]
    repairs: tuple[CaseRepair, ...]
    failed: tuple[int, ...]

    def chosen(self, option: guide.Option) -> Trial | CaseRepair:
        """The test or repair that an option of the guide stands for."""
        return (
            self.tests[option.index]
            if option.kind == "test"
            else self.repairs[option.index]
        )

    @property
    def undivided(self) -> tuple[str, ...]:
        """The likeliest causes that no test parts any more, if they are several."""
        group = guide.ambiguity_group(self.problem, {}, self.failed)
        names = tuple(
            self.candidates[i].name
            for i in group
            if self.candidates[i].cause != SOMETHING_ELSE
        )
        return names if len(names) > 1 else ()


def case_of(question: AdviceQuestion) -> Case:
    """The problem over the candidates that matter; what was shown is in their probabilities already."""
    repairs: list[CaseRepair] = [CaseRepair("", None)]
    fix_of, prior = [0], [max(question.diagnosis.something_else, 1e-6)]
    for candidate in question.likely:
        repair = _repair(question, candidate)
        if repair not in repairs:
            repairs.append(repair)
        fix_of.append(repairs.index(repair))
        prior.append(question.diagnosis.posterior[candidate.name])
    candidates = (Candidate("", SOMETHING_ELSE, 0.0), *question.likely)
    tests = _tests(question)
    problem = guide.Problem(
        prior=tuple(prior),
        fix_of=tuple(fix_of),
        fix_minutes=[_minutes_of(repair, question) for repair in repairs],
        test_minutes=[one.minutes for one in tests],
        likelihood=[likelihoods_of(one.test, one.entry, candidates) for one in tests],
        opening_minutes=OPENING_MINUTES,
        fix_inside=[place for place, repair in enumerate(repairs) if repair.inside],
        test_inside=[place for place, one in enumerate(tests) if one.inside],
    )
    failed = tuple(
        place for place, repair in enumerate(repairs) if _has_failed(repair, question)
    )
    return Case(problem, candidates, tests, tuple(repairs), failed)


def _minutes_of(repair: CaseRepair, question: AdviceQuestion) -> float:
    """The minutes of a repair as the guide is told: more where the machine does not do what it needs."""
    return (
        repair.minutes
        if question.can_be_done(repair.whole)
        else repair.minutes + NOT_YET
    )


def _has_failed(repair: CaseRepair, question: AdviceQuestion) -> bool:
    """Whether a repair was tried on this job and did not help."""
    causes = repair.fix.causes if repair.fix else ()
    return any(f"{repair.entry}/{cause}" in question.at.failed for cause in causes)


def _repair(question: AdviceQuestion, candidate: Candidate) -> CaseRepair:
    """The repair that cures a cause."""
    entry = question.knowledge.entry(candidate.entry)
    if entry is None:
        return CaseRepair(candidate.entry, None)
    fix = entry.fix_for(candidate.cause) or Fix(
        (candidate.cause,), UNWRITTEN_MINUTES, UNWRITTEN
    )
    waits = gates.waits_for(entry, fix, question.answered(entry.slug))
    return CaseRepair(candidate.entry, fix, _cured(entry, fix), waits)


def _cured(entry: Entry, fix: Fix) -> str:
    """What a fix cures, in the words of its causes."""
    return "; or ".join(
        cause.text for cause in entry.causes if cause.slug in fix.causes
    )


def likely_causes(diagnosis: Diagnosis, most: int) -> list[Candidate]:
    """The listed causes that together hold most of the belief, likeliest first."""
    listed = []
    for candidate in diagnosis.candidates:
        name = candidate.name
        share = diagnosis.posterior[name]
        if share > 0 and candidate.cause != SOMETHING_ELSE:
            listed.append((-share, name, candidate))
    left = CONSIDERED * -sum(share for share, _, _ in listed)
    kept = []
    for share, _, candidate in nsmallest(most, listed):
        if left <= 0:
            break
        kept.append(candidate)
        left += share
    return kept


def likely_entries(likely: Sequence[Candidate], diagnosis: Diagnosis) -> list[str]:
    """The entries that hold enough belief for their tests to be offered, in the order of their likeliest cause."""
    held: dict[str, float] = {}
    for candidate in likely:
        held[candidate.entry] = (
            held.get(candidate.entry, 0.0) + diagnosis.posterior[candidate.name]
        )
    least = LEAST_SHARE * sum(held.values())
    return [slug for slug, share in held.items() if share >= least]


def _tests(question: AdviceQuestion) -> tuple[Trial, ...]:
    """The tests that are still open and for which the bench has what they need; the held one first in any case.

    One that waits for a test that could not be done, or for which a tool is lacking, cannot be done either; nor one
    that needs of the machine what it does not do.
    """
    found = [question.held.one] if question.held else []
    found += filter(question.can_try, open_tests(question))
    return tuple(
        replace(one, test=_trusted(question, one)) for one in found[:MOST_TESTS]
    )


def _trusted(question: AdviceQuestion, one: Trial) -> Test:
    """The test with the reliability that its past outcomes taught."""
    entry = question.knowledge.entry(one.entry)
    return question.knowledge.trusted(entry, one.test) if entry else one.test


def open_tests(question: AdviceQuestion) -> Iterator[Trial]:
    """The tests of the likely entries that were neither done nor set aside nor are held, whatever they need."""
    for slug in likely_entries(question.likely, question.diagnosis):
        entry = question.knowledge.entry(slug)
        if entry is None:
            continue
        answered = question.answered(slug)
        for test in entry.tests:
            is_dealt_with = (
                test.slug in answered or f"{slug}/{test.slug}" in question.at.skipped
            )
            if not is_dealt_with and len(test.outcomes) > 1:
                yield Trial(slug, test, gates.waits_for(entry, test, answered))


def cover_is_off(at: SoFar, knowledge: Knowledge) -> bool:
    """Whether a test done or a fix tried on this job took the cover off."""
    done = [named_test(finding.test, knowledge.entry) for finding in at.findings]
    tried = [named_fix(cause, knowledge.entry) for cause in at.failed]
    return any(step.cover_off for step in (*done, *tried) if step)
