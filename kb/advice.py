"""The next step: candidates and their tests put before the guide, and its choice said in one sentence."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from kb import guide
from kb.diagnosis import Candidate, Diagnosis, likelihood_of
from kb.model import SOMETHING_ELSE, Entry, Finding, Fix, Step, Test

#: Taking the cover off, and putting it on again at the end (common practice).
OPENING_MINUTES = 5.0
#: What it takes to find a cause that nothing here lists (assumption, stated in DEVELOPERS.md).
SEARCH_MINUTES = 60.0
#: The candidates that hold this share of belief are weighed; what is left counts as something else.
CONSIDERED = 0.99
MOST_CANDIDATES = 24
MOST_TESTS = 40

EntryOf = Callable[[str], Entry | None]
Trusted = Callable[[Entry, Test], Test]


@dataclass(frozen=True, slots=True)
class Bench:
    """What has been done on this job, and the tools and parts that this bench lacks.

    `failed` are fixes that did not help, by the name of a cause they cure; `skipped` are tests that could
    not be done, both as `entry/name`.
    """

    findings: Sequence[Finding] = ()
    failed: Sequence[str] = ()
    skipped: Sequence[str] = ()
    opened: bool = False
    lacks: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Advice:
    """The step to take, the test that pays most if a test is wanted, and the causes no test parts any more."""

    step: Step | None = None
    test: Step | None = None
    undivided: tuple[str, ...] = ()


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

    @property
    def minutes(self) -> float:
        return self.fix.minutes if self.fix else SEARCH_MINUTES


@dataclass(frozen=True, slots=True)
class _Case:
    """The guide's problem with the names of its numbers."""

    problem: guide.Problem
    candidates: tuple[Candidate, ...]
    tests: tuple[_Try, ...]
    repairs: tuple[_Repair, ...]
    failed: tuple[int, ...]


def advise(diagnosis: Diagnosis, entry_of: EntryOf, at: Bench, trusted: Trusted = lambda entry, test: test) -> Advice:
    """What to do next, given the belief after the findings so far."""
    case = _case(diagnosis, entry_of, at, trusted)
    if case is None:
        return Advice()
    opened = at.opened or _cover_is_off(at, entry_of)
    action = guide.next_action(case.problem, {}, case.failed, opened)
    moves = [_moved(case, t) for t in range(len(case.tests))]
    best_test = _best_test(case, action, moves)
    step = _step(case, action, moves)
    test = _test_step(case, best_test, moves, action.expected_minutes) if best_test is not None else None
    return Advice(step, test, _undivided(case))


def _case(diagnosis: Diagnosis, entry_of: EntryOf, at: Bench, trusted: Trusted) -> _Case | None:
    """The problem over the candidates that matter; what was shown is in their probabilities already."""
    likely = _likely(diagnosis)
    if not likely:
        return None
    repairs: list[_Repair] = [_Repair("", None)]
    fix_of, prior = [0], [max(1.0 - sum(diagnosis.posterior[c.name] for c in likely), 1e-6)]
    for candidate in likely:
        entry = entry_of(candidate.entry)
        repair = _Repair(candidate.entry, entry.fix_for(candidate.cause) if entry else None)
        if repair not in repairs:
            repairs.append(repair)
        fix_of.append(repairs.index(repair))
        prior.append(diagnosis.posterior[candidate.name])
    candidates = (Candidate("", SOMETHING_ELSE, 0.0), *likely)
    tests = _tests(likely, entry_of, at, trusted)
    problem = guide.Problem(
        prior=tuple(prior),
        fix_of=tuple(fix_of),
        fix_minutes=tuple(repair.minutes for repair in repairs),
        test_minutes=tuple(one.test.minutes for one in tests),
        likelihood=tuple(tuple(likelihood_of(one.test, one.entry, c) for c in candidates) for one in tests),
        opening_minutes=OPENING_MINUTES,
        fix_inside=tuple(i for i, repair in enumerate(repairs) if repair.fix is None or repair.fix.cover_off),
        test_inside=tuple(i for i, one in enumerate(tests) if one.test.cover_off),
    )
    failed = tuple(
        i for i, repair in enumerate(repairs)
        if repair.fix and any(f"{repair.entry}/{cause}" in at.failed for cause in repair.fix.causes)
    )  # fmt: skip
    return _Case(problem, candidates, tests, tuple(repairs), failed)


def _likely(diagnosis: Diagnosis) -> list[Candidate]:
    """The listed causes that together hold most of the belief, likeliest first."""
    listed = [c for c in diagnosis.candidates if c.cause != SOMETHING_ELSE and diagnosis.posterior[c.name] > 0]
    listed.sort(key=lambda c: (-diagnosis.posterior[c.name], c.name))
    whole = sum(diagnosis.posterior[c.name] for c in listed)
    kept, held = [], 0.0
    for candidate in listed[:MOST_CANDIDATES]:
        if held >= CONSIDERED * whole:
            break
        kept.append(candidate)
        held += diagnosis.posterior[candidate.name]
    return kept


def _tests(likely: Sequence[Candidate], entry_of: EntryOf, at: Bench, trusted: Trusted) -> tuple[_Try, ...]:
    """The tests of the candidates' entries that are still open and for which the bench has what they need."""
    done = {finding.test for finding in at.findings} | set(at.skipped)
    found = []
    for slug in dict.fromkeys(candidate.entry for candidate in likely):
        entry = entry_of(slug)
        for test in entry.tests if entry else ():
            one = _Try(slug, test)
            if entry and one.name not in done and len(test.outcomes) > 1 and not at.lacks.intersection(test.needs):
                found.append(_Try(slug, trusted(entry, test)))
    return tuple(found[:MOST_TESTS])


def _cover_is_off(at: Bench, entry_of: EntryOf) -> bool:
    for finding in at.findings:
        slug, _, name = finding.test.partition("/")
        entry = entry_of(slug)
        test = entry.test(name) if entry else None
        if test and test.cover_off:
            return True
    return False


def _moved(case: _Case, t: int) -> float:
    """The share of belief that the test is expected to move (the mean total variation)."""
    prior, table = case.problem.prior, case.problem.likelihood[t]
    whole = sum(prior)
    moved = 0.0
    for o in range(len(table[0])):
        joint = [p / whole * row[o] for p, row in zip(prior, table, strict=True)]
        chance = sum(joint)
        moved += sum(abs(j - chance * p / whole) for j, p in zip(joint, prior, strict=True)) / 2
    return moved


def _best_test(case: _Case, action: guide.Action, moves: Sequence[float]) -> int | None:
    """The test the guide takes, else the one that moves most belief a minute."""
    if action.kind == "test":
        return action.index
    useful = [t for t in range(len(case.tests)) if moves[t] > 0.01]
    return max(useful, key=lambda t: (moves[t] / case.tests[t].test.minutes, -t), default=None)


def _step(case: _Case, action: guide.Action, moves: Sequence[float]) -> Step:
    if action.kind == "test":
        return _test_step(case, action.index, moves, action.expected_minutes)
    repair = case.repairs[action.index]
    whole = sum(case.problem.prior)
    share = sum(p for p, f in zip(case.problem.prior, case.problem.fix_of, strict=True) if f == action.index) / whole
    if repair.fix is None:
        why = f"nothing listed here explains it any more ({share:.0%} for something else): look further, then write it down"
        return Step("else", "", "", "Look beyond what is listed", SEARCH_MINUTES, action.expected_minutes, why)
    why = f"{share:.0%} likely and {repair.minutes:g} min to fix: no test left would save more minutes than it costs"
    causes = ", ".join(repair.fix.causes)
    return Step(
        "fix", repair.entry, repair.fix.causes[0], f"Fix {causes}", repair.minutes, action.expected_minutes, why,
        repair.fix.parts + repair.fix.needs, repair.fix.cover_off, repair.fix.text,
    )  # fmt: skip


def _test_step(case: _Case, t: int, moves: Sequence[float], expected: float) -> Step:
    one = case.tests[t]
    test = one.test
    return Step(
        "test", one.entry, test.slug, test.title, test.minutes, expected, _why_test(case, t, moves), test.needs,
        test.cover_off, test.detail, tuple(outcome.text for outcome in test.outcomes),
    )  # fmt: skip


def _why_test(case: _Case, t: int, moves: Sequence[float]) -> str:
    """Why this test: what it settles, and why not a cheaper one."""
    minutes = case.tests[t].test.minutes
    outcome, causes, share = _cleared(case, t)
    what = f"{minutes:g} min: if `{outcome}`, {causes} that make up {share:.0%} are out"
    cheaper = [u for u in range(len(case.tests)) if case.tests[u].test.minutes < minutes and u != t]
    if not cheaper:
        return what
    rival = max(cheaper, key=lambda u: (moves[u], -u))
    return f"{what}; the best cheaper test ({case.tests[rival].test.minutes:g} min) would move {moves[rival]:.0%} of the belief, this one {moves[t]:.0%}"


def _cleared(case: _Case, t: int) -> tuple[str, str, float]:
    """The outcome that speaks against most of the belief, how many causes that is, and their share."""
    prior, table = case.problem.prior, case.problem.likelihood[t]
    whole = sum(prior)
    best = ("", "causes", -1.0)
    for o, outcome in enumerate(case.tests[t].test.outcomes):
        even = 1.0 / len(table[0])
        out = [i for i, row in enumerate(table) if row[o] < even / 2]
        share = sum(prior[i] for i in out) / whole
        chance = sum(p * row[o] for p, row in zip(prior, table, strict=True)) / whole
        if share * chance > best[2]:
            best = (outcome.text, f"the {len(out)} causes" if len(out) != 1 else "the cause", share * chance)
            found = share
    return best[0], best[1], found


def _undivided(case: _Case) -> tuple[str, ...]:
    """The causes that no test left tells from the likeliest one (its ambiguity group), if that is more than one."""
    listed = range(1, len(case.candidates))
    top = max(listed, key=lambda i: (case.problem.prior[i], -i))
    group = [
        case.candidates[i].name for i in listed
        if all(abs(a - b) < 0.05 for table in case.problem.likelihood for a, b in zip(table[top], table[i], strict=True))
    ]  # fmt: skip
    return tuple(group) if len(group) > 1 else ()
