"""The next step: candidates and their tests put before the guide, and its choice said in one sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from heapq import nsmallest

from kb import guide
from kb.diagnosis import Candidate, Diagnosis, likelihoods_of
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
    """A test of an entry as the guide sees it."""

    entry: str
    test: Test

    @property
    def name(self) -> str:
        return f"{self.entry}/{self.test.slug}"


@dataclass(frozen=True, slots=True)
class _Repair:
    """A fix of an entry as the guide sees it; without a fix it is the search beyond what is listed."""

    entry: str
    fix: Fix | None
    cures: str = ""

    @property
    def minutes(self) -> float:
        """Bench minutes, and what getting the parts takes."""
        return self.fix.minutes + PART_MINUTES * bool(self.fix.parts) if self.fix else SEARCH_MINUTES


@dataclass(frozen=True, slots=True)
class _Case:
    """The guide's problem with the names of its numbers."""

    problem: guide.Problem
    candidates: tuple[Candidate, ...]
    tests: tuple[_Try, ...]
    repairs: tuple[_Repair, ...]
    failed: tuple[int, ...]


def advise(
    diagnosis: Diagnosis, entry_of: EntryOf, at: Bench, trusted: Trusted = as_claimed, hasty: bool = False
) -> Advice:
    """What to do next, given the belief after the findings so far; a `hasty` answer weighs fewer causes, less far."""
    likely = _likely(diagnosis, FEW_CANDIDATES if hasty else MOST_CANDIDATES)
    case = _case(likely, diagnosis, entry_of, at, trusted)
    if case is None:
        return Advice()
    at = replace(at, opened=at.opened or _cover_is_off(at, entry_of), lacks=at.lacks or frozenset())
    options = guide.weigh(case.problem, {}, case.failed, at.opened, HASTE if hasty else 1.0)
    best = options[0]
    test = next((option for option in options if option.kind == "test"), None)
    step = _test_step(case, best, options) if best.kind == "test" else _fix_step(case, best, at)
    group = guide.ambiguity_group(case.problem, {}, case.failed)
    names = tuple(case.candidates[i].name for i in group if case.candidates[i].cause != SOMETHING_ELSE)
    loss = None if hasty else _loss(likely, diagnosis, entry_of, at, trusted, best.expected_minutes)
    return Advice(step, _test_step(case, test, options) if test else None, names if len(names) > 1 else (), loss)


def _loss(
    likely: Sequence[Candidate], diagnosis: Diagnosis, entry_of: EntryOf, at: Bench, trusted: Trusted, minutes: float
) -> Loss | None:
    """The lacking tool with which the expected minutes would fall most, if by enough to be said.

    Weighed are the tools that alone keep tests of the likely entries from being done; ties by name. That a fix
    needs one is not counted, since the minutes reckon with every fix being done.
    """
    if not at.lacks:
        return None
    wanted: Counter[str] = Counter()
    for one in _open_tests(_likely_entries(likely, diagnosis), entry_of, at):
        missing = _missing(at, one.test.needs)
        wanted.update(missing if len(missing) == 1 else ())
    found = []
    for tool in sorted(wanted, key=lambda name: (-wanted[name], name))[:TOOLS_WEIGHED]:
        case = _case(likely, diagnosis, entry_of, replace(at, lacks=at.lacks - {tool}), trusted)
        if case is not None:
            best = guide.weigh(case.problem, {}, case.failed, at.opened)[0]
            found.append(Loss(tool, minutes - best.expected_minutes))
    most = min(found, key=lambda loss: (-loss.minutes, loss.tool), default=None)
    return most if most and most.minutes >= LEAST_SAVED else None


def _case(
    likely: Sequence[Candidate], diagnosis: Diagnosis, entry_of: EntryOf, at: Bench, trusted: Trusted
) -> _Case | None:
    """The problem over the candidates that matter; what was shown is in their probabilities already."""
    if not likely:
        return None
    repairs: list[_Repair] = [_Repair("", None)]
    fix_of, prior = [0], [max(diagnosis.something_else, 1e-6)]
    for candidate in likely:
        entry = entry_of(candidate.entry)
        fix = entry.fix_for(candidate.cause) if entry else None
        repair = _Repair(candidate.entry, fix, _cured(entry, fix))
        if repair not in repairs:
            repairs.append(repair)
        fix_of.append(repairs.index(repair))
        prior.append(diagnosis.posterior[candidate.name])
    candidates = (Candidate("", SOMETHING_ELSE, 0.0), *likely)
    tests = _tests(_likely_entries(likely, diagnosis), entry_of, at, trusted)
    problem = guide.Problem(
        prior=tuple(prior),
        fix_of=tuple(fix_of),
        fix_minutes=tuple(repair.minutes for repair in repairs),
        test_minutes=tuple(one.test.minutes for one in tests),
        likelihood=tuple(likelihoods_of(one.test, one.entry, candidates) for one in tests),
        opening_minutes=OPENING_MINUTES,
        fix_inside=tuple(i for i, repair in enumerate(repairs) if repair.fix is None or repair.fix.cover_off),
        test_inside=tuple(i for i, one in enumerate(tests) if one.test.cover_off),
    )
    failed = tuple(
        i for i, repair in enumerate(repairs)
        if repair.fix and any(f"{repair.entry}/{cause}" in at.failed for cause in repair.fix.causes)
    )  # fmt: skip
    return _Case(problem, candidates, tests, tuple(repairs), failed)


def _cured(entry: Entry | None, fix: Fix | None) -> str:
    """What a fix cures, in the words of its causes."""
    if entry is None or fix is None:
        return ""
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


def _tests(entries: Sequence[str], entry_of: EntryOf, at: Bench, trusted: Trusted) -> tuple[_Try, ...]:
    """The tests of the entries that are still open and for which the bench has what they need."""
    found = []
    for one in _open_tests(entries, entry_of, at):
        entry = entry_of(one.entry)
        if entry and not _missing(at, one.test.needs):
            found.append(_Try(one.entry, trusted(entry, one.test)))
    return tuple(found[:MOST_TESTS])


def _open_tests(entries: Sequence[str], entry_of: EntryOf, at: Bench) -> Iterator[_Try]:
    """The tests of the entries that were neither done nor set aside, whatever they need."""
    done = {finding.test for finding in at.findings} | set(at.skipped)
    for slug in entries:
        entry = entry_of(slug)
        for test in entry.tests if entry else ():
            if f"{slug}/{test.slug}" not in done and len(test.outcomes) > 1:
                yield _Try(slug, test)


def _missing(at: Bench, needs: Sequence[str]) -> tuple[str, ...]:
    """What of the needs the bench lacks."""
    return tuple(need for need in dict.fromkeys(needs) if need in (at.lacks or ()))


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


def _fix_step(case: _Case, option: guide.Option, at: Bench) -> Step:
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
        why, needs, repair.fix.cover_off, repair.fix.text, lacks=_missing(at, needs),
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
    cheaper = [o for o in options if o.kind == "test" and case.tests[o.index].test.minutes < test.minutes]
    rival = min(cheaper or [o for o in options if o.kind == "fix"], key=lambda o: o.expected_minutes, default=None)
    if rival is None or rival.expected_minutes - option.expected_minutes < 0.5:
        return what
    more = f"{rival.expected_minutes - option.expected_minutes:.0f} min more on the whole"
    if rival.kind == "fix":
        return f"{what}; fixing on a guess would take {more}"
    return f"{what}; beginning with the {case.tests[rival.index].test.minutes:g}-min test would take {more}"


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
