"""The next step: candidates and their tests put before the guide, and its choice said in one sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from heapq import nsmallest

from kb.diagnosis import guide
from kb.diagnosis.causes import Candidate, Diagnosis, likelihoods_of
from kb.library import gates
from kb.model import SOMETHING_ELSE, Entry, Finding, Fix, Loss, Step, Test

#: Taking the cover off, and putting it on again at the end (common practice).
OPENING_MINUTES = 5.0
#: Getting a part off the shelf or out of a donor before it can be fitted (common practice): fitting one on a guess
#: costs that too, so that a test is preferred where it is nearly as quick.
PART_MINUTES = 10.0
#: What it takes to find a cause that nothing here lists (assumption, stated in DEVELOPERS.md).
SEARCH_MINUTES = 60.0
#: The candidates that hold this share of belief are weighed; what is left counts as something else.
CONSIDERED = 0.99
MOST_CANDIDATES = 24
#: While the words are still being typed: the causes weighed, and the part of the guide's usual work spent on them.
FEW_CANDIDATES, HASTE = 12, 0.2
#: Tests of entries that hold less than this share of the belief are not offered: in the simulated shop they cost as
#: much as they gained, and read oddly.
LEAST_SHARE = 0.1
MOST_TESTS = 40
#: Lacking tools whose worth is worked out, each at the price of one more question to the guide, and the least saving
#: in minutes that is worth a sentence.
TOOLS_WEIGHED, LEAST_SAVED = 3, 1.0
#: A test that is done for safety's sake may clear less than this share of the belief, which is said without a figure.
LEAST_CLEARED = 0.005
#: Why a test that comes first is the next step, and what is said of one that was set aside.
FIRST, ASIDE = "it comes before everything else here", "it was set aside, but cannot be left out"


def as_claimed(_: Entry, test: Test) -> Test:
    """The test with the reliability that its entry claims."""
    return test


EntryOf = Callable[[str], Entry | None]
Trusted = Callable[[Entry, Test], Test]


@dataclass(frozen=True, slots=True)
class Bench:
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
UNTOUCHED = Bench()


@dataclass(frozen=True, slots=True)
class Advice:
    """The step to take, the test that pays most if a test is wanted, and the causes no test parts any more.

    `loss` is the lacking tool that would help most, if one would.
    """

    step: Step | None = None
    test: Step | None = None
    undivided: tuple[str, ...] = ()
    loss: Loss | None = None


@dataclass(frozen=True, slots=True)
class _Try:
    """A test of an entry as the guide sees it; `waits` are the tests that are to be answered before it."""

    entry: str
    test: Test
    waits: tuple[Test, ...] = ()

    @property
    def name(self) -> str:
        return f"{self.entry}/{self.test.slug}"

    @property
    def whole(self) -> tuple[Test, ...]:
        """The test with those before it."""
        return (*self.waits, self.test)


@dataclass(frozen=True, slots=True)
class _Repair:
    """A fix of an entry as the guide sees it; without a fix it is the search beyond what is listed.

    `waits` are the tests that are to be answered before it.
    """

    entry: str
    fix: Fix | None
    cures: str = ""
    waits: tuple[Test, ...] = ()

    @property
    def minutes(self) -> float:
        """Bench minutes, what getting the parts takes, and the tests that come before it."""
        if self.fix is None:
            return SEARCH_MINUTES
        return self.fix.minutes + PART_MINUTES * bool(self.fix.parts) + sum(test.minutes for test in self.waits)

    @property
    def inside(self) -> bool:
        """Whether the cover has to come off for it."""
        return self.fix is None or self.fix.cover_off or any(test.cover_off for test in self.waits)


@dataclass(frozen=True, slots=True)
class _Held:
    """A test that cannot be left out now, and why."""

    one: _Try
    why: str


@dataclass(frozen=True, slots=True)
class _Question:
    """What is asked of the advice: the belief and its likeliest causes, the entries, and what was done on the job.

    `held` is a test that is done next, whatever would be better.
    """

    diagnosis: Diagnosis
    likely: Sequence[Candidate]
    entry_of: EntryOf
    at: Bench
    trusted: Trusted
    effort: float
    held: _Held | None = None

    def answered(self, slug: str) -> frozenset[str]:
        """The tests of that entry that showed something, or will have when the held one is done."""
        names = {finding.test for finding in self.at.findings} | ({self.held.one.name} if self.held else set())
        return frozenset(test for entry, _, test in (name.partition("/") for name in names) if entry == slug)

    def missing(self, needs: Collection[str]) -> tuple[str, ...]:
        """What of the needs the bench lacks."""
        return tuple(need for need in dict.fromkeys(needs) if need in (self.at.lacks or ()))

    def missing_for(self, one: _Try) -> tuple[str, ...]:
        """What the bench lacks for a test and those before it."""
        return self.missing([need for test in one.whole for need in test.needs])


@dataclass(frozen=True, slots=True)
class _Case:
    """The guide's problem with the names of its numbers; a held test is the first of its tests."""

    problem: guide.Problem
    candidates: tuple[Candidate, ...]
    tests: tuple[_Try, ...]
    repairs: tuple[_Repair, ...]
    failed: tuple[int, ...]

    @property
    def undivided(self) -> tuple[str, ...]:
        """The likeliest causes that no test parts any more, if they are several."""
        group = guide.ambiguity_group(self.problem, {}, self.failed)
        names = tuple(self.candidates[i].name for i in group if self.candidates[i].cause != SOMETHING_ELSE)
        return names if len(names) > 1 else ()


def advise(
    diagnosis: Diagnosis, entry_of: EntryOf, at: Bench, trusted: Trusted = as_claimed, hasty: bool = False
) -> Advice:
    """What to do next, given the belief after the findings so far; a `hasty` answer weighs fewer causes, less far.

    The guide chooses among what the entries' gates leave open: a test that comes first stands before everything, and
    where the guide's choice waits for another test, that test is the step.
    """
    likely = _likely(diagnosis, FEW_CANDIDATES if hasty else MOST_CANDIDATES)
    if not likely:
        return Advice()
    at = replace(at, opened=at.opened or _cover_is_off(at, entry_of), lacks=at.lacks or frozenset())
    question = _Question(diagnosis, likely, entry_of, at=at, trusted=trusted, effort=HASTE if hasty else 1.0)
    if held := _comes_first(question):
        return _held_advice(question, held)
    case = _case(question)
    options = guide.weigh(case.problem, {}, case.failed, at.opened, question.effort)
    best = options[0]
    if held := _waited_for(case, best):
        return _held_advice(question, held)
    ready = [option for option in options if option.kind == "test" and not case.tests[option.index].waits]
    step = _test_step(case, best, options) if best.kind == "test" else _fix_step(case, best, question)
    loss = None if hasty else _loss(question, best.expected_minutes)
    return Advice(step, _test_step(case, ready[0], options) if ready else None, case.undivided, loss)


def _comes_first(question: _Question) -> _Held | None:
    """The test that nothing may come before: the first unanswered one of the likeliest entry that has any."""
    shares = question.diagnosis.by_entry
    for slug in sorted(shares, key=lambda slug: (-shares[slug], slug)):
        entry = question.entry_of(slug) if shares[slug] >= LEAST_SHARE else None
        test = gates.next_first(entry, question.answered(slug)) if entry else None
        if test:
            return _Held(_Try(slug, test), FIRST)
    return None


def _waited_for(case: _Case, best: guide.Option) -> _Held | None:
    """The test that has to be answered before the guide's choice, None if nothing has."""
    if not _waits(case, best):
        return None
    chosen = case.tests[best.index] if best.kind == "test" else case.repairs[best.index]
    what = f"the test “{chosen.test.title}”" if isinstance(chosen, _Try) else f"the fix for “{chosen.cures}”"
    return _Held(_Try(chosen.entry, chosen.waits[0]), f"{what} waits for it")


def _held_advice(question: _Question, held: _Held) -> Advice:
    """The advice to do the held test, with what the guide expects of beginning with it."""
    case = _case(replace(question, held=held))
    minutes = guide.minutes_testing_first(case.problem, 0, case.failed, question.at.opened, question.effort)
    option = guide.Option("test", 0, held.one.test.minutes, minutes)
    aside = f"; {ASIDE}" if held.one.name in question.at.skipped else ""
    lacks = question.missing(held.one.test.needs)
    step = replace(_test_step(case, option, ()), lacks=lacks, held=f"{held.why}{aside}")
    return Advice(step, step, case.undivided)


def _loss(question: _Question, minutes: float) -> Loss | None:
    """The lacking tool with which the expected minutes would fall most, if by enough to be said.

    Weighed are the tools that alone keep tests of the likely entries from being done; ties by name. That a fix
    needs one is not counted, since the minutes reckon with every fix being done.
    """
    at = question.at
    if not at.lacks:
        return None
    wanted: Counter[str] = Counter()
    for one in _open_tests(question):
        missing = question.missing_for(one)
        wanted.update(missing if len(missing) == 1 else ())
    found = []
    for tool in sorted(wanted, key=lambda name: (-wanted[name], name))[:TOOLS_WEIGHED]:
        case = _case(replace(question, at=replace(at, lacks=at.lacks - {tool})))
        best = guide.weigh(case.problem, {}, case.failed, at.opened)[0]
        found.append(Loss(tool, minutes - best.expected_minutes))
    most = min(found, key=lambda loss: (-loss.minutes, loss.tool), default=None)
    return most if most and most.minutes >= LEAST_SAVED else None


def _case(question: _Question) -> _Case:
    """The problem over the candidates that matter; what was shown is in their probabilities already."""
    repairs: list[_Repair] = [_Repair("", None)]
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
        fix_minutes=tuple(repair.minutes for repair in repairs),
        test_minutes=tuple(sum(test.minutes for test in one.whole) for one in tests),
        likelihood=tuple(likelihoods_of(one.test, one.entry, candidates) for one in tests),
        opening_minutes=OPENING_MINUTES,
        fix_inside=tuple(i for i, repair in enumerate(repairs) if repair.inside),
        test_inside=tuple(i for i, one in enumerate(tests) if any(test.cover_off for test in one.whole)),
    )
    failed = tuple(
        i for i, repair in enumerate(repairs)
        if repair.fix and any(f"{repair.entry}/{cause}" in question.at.failed for cause in repair.fix.causes)
    )  # fmt: skip
    return _Case(problem, candidates, tests, tuple(repairs), failed)


def _repair(question: _Question, candidate: Candidate) -> _Repair:
    """The repair that cures a cause."""
    entry = question.entry_of(candidate.entry)
    fix = entry.fix_for(candidate.cause) if entry else None
    if entry is None or fix is None:
        return _Repair(candidate.entry, None)
    waits = gates.waits_for(entry, fix, question.answered(entry.slug))
    return _Repair(candidate.entry, fix, _cured(entry, fix), waits)


def _cured(entry: Entry, fix: Fix) -> str:
    """What a fix cures, in the words of its causes."""
    return "; or ".join(cause.text for cause in entry.causes if cause.slug in fix.causes)


def _likely(diagnosis: Diagnosis, most: int) -> list[Candidate]:
    """The listed causes that together hold most of the belief, likeliest first."""
    named = ((c.name, c) for c in diagnosis.candidates if c.cause != SOMETHING_ELSE)
    listed = [(-share, name, c) for name, c in named if (share := diagnosis.posterior[name]) > 0]
    left = CONSIDERED * -sum(share for share, _, _ in listed)
    kept = []
    for share, _, candidate in nsmallest(most, listed):
        if left <= 0:
            break
        kept.append(candidate)
        left += share
    return kept


def _likely_entries(likely: Sequence[Candidate], diagnosis: Diagnosis) -> list[str]:
    """The entries that hold enough belief for their tests to be offered, in the order of their likeliest cause."""
    held: dict[str, float] = {}
    for candidate in likely:
        held[candidate.entry] = held.get(candidate.entry, 0.0) + diagnosis.posterior[candidate.name]
    least = LEAST_SHARE * sum(held.values())
    return [slug for slug, share in held.items() if share >= least]


def _tests(question: _Question) -> tuple[_Try, ...]:
    """The tests that are still open and for which the bench has what they need; the held one first in any case.

    One that waits for a test that could not be done, or for which a tool is lacking, cannot be done either.
    """
    found = [question.held.one] if question.held else []
    for one in _open_tests(question):
        aside = any(f"{one.entry}/{test.slug}" in question.at.skipped for test in one.waits)
        if not aside and not question.missing_for(one):
            found.append(one)
    return tuple(replace(one, test=_trusted(question, one)) for one in found[:MOST_TESTS])


def _trusted(question: _Question, one: _Try) -> Test:
    """The test with the reliability that its past outcomes taught."""
    entry = question.entry_of(one.entry)
    return question.trusted(entry, one.test) if entry else one.test


def _open_tests(question: _Question) -> Iterator[_Try]:
    """The tests of the likely entries that were neither done nor set aside nor are held, whatever they need."""
    at = question.at
    for slug in _likely_entries(question.likely, question.diagnosis):
        entry = question.entry_of(slug)
        answered = question.answered(slug)
        for test in entry.tests if entry else ():
            aside = f"{slug}/{test.slug}" in at.skipped
            if entry and test.slug not in answered and not aside and len(test.outcomes) > 1:
                yield _Try(slug, test, gates.waits_for(entry, test, answered))


def _cover_is_off(at: Bench, entry_of: EntryOf) -> bool:
    for finding in at.findings:
        slug, _, name = finding.test.partition("/")
        entry = entry_of(slug)
        test = entry.test(name) if entry else None
        if test and test.cover_off:
            return True
    for name in at.failed:
        slug, _, cause = name.partition("/")
        entry = entry_of(slug)
        fix = entry.fix_for(cause) if entry else None
        if fix and fix.cover_off:
            return True
    return False


def _fix_step(case: _Case, option: guide.Option, question: _Question) -> Step:
    """The step of a fix; one whose tool is lacking stays, since it may be the cause, and says what is missing."""
    repair = case.repairs[option.index]
    whole = sum(case.problem.prior)
    pairs = zip(case.problem.prior, case.problem.fix_of, strict=True)
    share = sum(p for p, fix in pairs if fix == option.index) / whole
    if repair.fix is None:
        why = f"{share:.0%} for something that is not listed here: look further, then write it down"
        return Step("else", "", "", "Look beyond what is listed", SEARCH_MINUTES, option.expected_minutes, why)
    why = f"{share:.0%} likely and {repair.fix.minutes:g} min to fix: no test left would save more than it costs"
    needs = repair.fix.parts + repair.fix.needs
    return Step(
        "fix", repair.entry, repair.fix.causes[0], f"Fix: {repair.cures}", repair.fix.minutes, option.expected_minutes,
        why, needs, repair.fix.cover_off, repair.fix.text, lacks=question.missing(needs),
    )  # fmt: skip


def _test_step(case: _Case, option: guide.Option, options: Sequence[guide.Option]) -> Step:
    one = case.tests[option.index]
    test = one.test
    return Step(
        "test", one.entry, test.slug, test.title, test.minutes, option.expected_minutes, _why(case, option, options),
        test.needs, test.cover_off, test.detail, tuple(outcome.text for outcome in test.outcomes),
    )  # fmt: skip


def _why(case: _Case, option: guide.Option, options: Sequence[guide.Option]) -> str:
    """Why this test: what it settles, and what the cheaper way would cost on the whole."""
    test = case.tests[option.index].test
    cleared = _most_cleared(case, option.index)
    likely = f"`{cleared.outcome}` ({cleared.chance:.0%} likely)"
    what = f"{test.minutes:g} min; {likely} would rule out {cleared.share:.0%} of what it may be"
    if cleared.share < LEAST_CLEARED:
        return f"{test.minutes:g} min; whatever it shows rules out little of what it may be"
    ready = [one for one in options if not _waits(case, one)]
    cheaper = [o for o in ready if o.kind == "test" and case.tests[o.index].test.minutes < test.minutes]
    rival = min(cheaper or [o for o in ready if o.kind == "fix"], key=lambda o: o.expected_minutes, default=None)
    if rival is None or rival.expected_minutes - option.expected_minutes < 0.5:
        return what
    more = f"{rival.expected_minutes - option.expected_minutes:.0f} min more on the whole"
    if rival.kind == "fix":
        return f"{what}; fixing on a guess would take {more}"
    return f"{what}; beginning with the {case.tests[rival.index].test.minutes:g}-min test would take {more}"


def _waits(case: _Case, option: guide.Option) -> bool:
    """Whether a step cannot be taken before another."""
    return bool((case.tests if option.kind == "test" else case.repairs)[option.index].waits)


@dataclass(frozen=True, slots=True)
class _Cleared:
    outcome: str
    share: float
    chance: float


def _most_cleared(case: _Case, t: int) -> _Cleared:
    """The outcome that is expected to rule out most of the belief, and how much that is."""
    prior, table = case.problem.prior, case.problem.likelihood[t]
    whole = sum(prior)
    found = []
    for o, outcome in enumerate(case.tests[t].test.outcomes):
        unlikely = 0.5 / len(table[0])
        share = sum(p for p, row in zip(prior, table, strict=True) if row[o] < unlikely) / whole
        chance = sum(p * row[o] for p, row in zip(prior, table, strict=True)) / whole
        found.append(_Cleared(outcome.text, share, chance))
    return max(found, key=lambda one: one.share * one.chance)
