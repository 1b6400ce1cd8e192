"""The next step at the bench: the test or fix that leaves the fewest expected minutes until the machine works."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from kb.forecast import Kind, Prospect, prospects
from kb.outlook import Check, Outlook
from kb.problem import Problem, numbered
from kb.repairs import Repairs

__all__ = ["Action", "Kind", "Option", "Problem", "Result", "ambiguity_group", "next_action", "posterior", "weigh"]

#: A cause this much less likely than all others together is out of the question.
NEGLIGIBLE = 1e-12

#: A cause of less belief than this is not worth naming.
WORTH_NAMING = 0.01

#: An outcome clears a cause when another cause shows it so many times as often.
CLEARS = 5.0

#: Outcomes that no cause left could have shown are taken to be this likely, so that the others still count.
_UNHEARD_OF = 0.001

#: A test whose outcomes differ by no more than this from cause to cause tells nothing.
_TELLS_NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class Action:
    """What to do now, and the expected minutes from now on until the machine works."""

    kind: Kind
    index: int
    expected_minutes: float


@dataclass(frozen=True, slots=True)
class Result:
    """What an outcome would mean: how likely it is, the causes it would clear, and the belief they hold now."""

    outcome: int
    probability: float
    clears: tuple[int, ...]
    mass: float


@dataclass(frozen=True, slots=True)
class Option:
    """A step worth weighing: its own minutes, and the expected minutes until it works if it is taken now.

    `mass` is the belief that it moves: for a fix what its `causes` hold, for a test the belief that its outcome is
    expected to shift from some causes to others. A test's `causes` are those that its most telling outcome clears,
    `results` all its outcomes. Minutes include the opening where it is due.
    """

    kind: Kind
    index: int
    minutes: float
    expected_minutes: float
    mass: float = 0.0
    causes: tuple[int, ...] = ()
    results: tuple[Result, ...] = ()


def next_action(
    problem: Problem, outcomes: Mapping[int, int] | None = None, failed: Iterable[int] = (), opened: bool = False
) -> Action:
    """The test or fix to take now.

    `outcomes` are the tests done and what they showed, `failed` the fixes that did not help, `opened` whether the
    cover is off (an inside test or fix that was done says so too). A test is advised only if it saves more than it
    costs; ties go to the cheaper step, then to the lower number. `expected_minutes` are those of going on as advised,
    reckoned out for the likely turns and estimated for the far ends of a long plan. Raises ValueError when no cause
    is left.

    >>> one_bit_each = [[[1, 0], [1, 0], [0, 1], [0, 1]], [[1, 0], [0, 1], [1, 0], [0, 1]]]
    >>> next_action(Problem([1, 1, 1, 1], [0, 1, 1, 0], [60, 60], [5, 5], one_bit_each))
    Action(kind='test', index=0, expected_minutes=70.0)
    """
    best = _Case(problem, outcomes or {}, failed, opened).prospects()[0]
    return Action(best.kind, best.index, best.expected_minutes)


def weigh(
    problem: Problem, outcomes: Mapping[int, int] | None = None, failed: Iterable[int] = (), opened: bool = False
) -> tuple[Option, ...]:
    """The steps worth weighing: the one to take, then those that came near it, the cheapest test and the first fix.

    >>> halves = [[[1, 0], [1, 0], [0, 1], [0, 1]]]
    >>> test, fix = weigh(Problem([1, 1, 1, 1], range(4), [30] * 4, [6], halves))
    >>> test.expected_minutes, test.mass, test.causes, fix.expected_minutes, fix.mass
    (51.0, 0.5, (2, 3), 64.5, 0.25)
    """
    case = _Case(problem, outcomes or {}, failed, opened)
    return tuple(case.option(prospect) for prospect in case.prospects(more=True))


def posterior(
    problem: Problem, outcomes: Mapping[int, int] | None = None, failed: Iterable[int] = ()
) -> tuple[float, ...]:
    """P(cause | outcomes, failed fixes), summing to one, or all zero when every cause is ruled out.

    When no cause left can have shown all the outcomes, each is taken to be possible after all, if hardly.

    >>> posterior(Problem([1, 1], [0, 1], [5, 5], [1], [[[0.9, 0.1], [0.3, 0.7]]]), {0: 0})
    (0.75, 0.25)
    """
    ruled_out = set(numbered(failed, len(problem.fix_minutes), "fix"))
    left = [float(fix not in ruled_out) for fix in problem.fix_of]
    prior = [p * open_ for p, open_ in zip(problem.prior, left, strict=True)]
    prior = prior if any(prior) else left
    seen = _seen(problem, outcomes or {})
    shares = _weighed(problem, seen, prior, 0.0) or _weighed(problem, seen, prior, _UNHEARD_OF) or prior
    whole = math.fsum(shares)
    return tuple(share / whole for share in shares) if whole > 0.0 else tuple(shares)


def ambiguity_group(
    problem: Problem, outcomes: Mapping[int, int] | None = None, failed: Iterable[int] = (), alike: float = 0.05
) -> tuple[int, ...]:
    """The causes worth naming that no test left tells from the likeliest one, itself among them (IEEE 1522).

    Two causes are told apart when some outcome differs by more than `alike` in probability.

    >>> ambiguity_group(Problem([3, 2, 1], [0, 1, 2], [5, 5, 5], [1], [[[0.9, 0.1], [0.9, 0.1], [0.1, 0.9]]]))
    (0, 1)
    """
    belief = posterior(problem, outcomes, failed)
    named = [cause for cause, share in enumerate(belief) if share >= WORTH_NAMING]
    if not named:
        return ()
    top = max(named, key=lambda cause: (belief[cause], -cause))
    done = _seen(problem, outcomes or {})
    left = [table for test, table in enumerate(problem.likelihood) if test not in done]
    return tuple(
        cause
        for cause in named
        if all(abs(a - b) <= alike for table in left for a, b in zip(table[top], table[cause], strict=True))
    )


class _Case:
    """A problem as it stands after some tests and fixes: what is still believed, and what can still be done."""

    def __init__(self, problem: Problem, outcomes: Mapping[int, int], failed: Iterable[int], opened: bool) -> None:
        failed = numbered(failed, len(problem.fix_minutes), "fix")
        done = _seen(problem, outcomes)
        self.problem = problem
        self.belief = posterior(problem, outcomes, failed)
        self.live = [cause for cause, share in enumerate(self.belief) if share > NEGLIGIBLE]
        if not self.live:
            raise ValueError("every cause has been ruled out; look beyond what is listed")
        self.opened = bool(
            opened or not set(failed).isdisjoint(problem.fix_inside) or not done.keys().isdisjoint(problem.test_inside)
        )
        self.fixes = sorted({problem.fix_of[cause] for cause in self.live})
        self.tests = [test for test in range(len(problem.test_minutes)) if test not in done and self._tells(test)]

    def prospects(self, more: bool = False) -> list[Prospect]:
        """The first steps by the problem's own numbers, the one to take first."""
        numbers = {"test": self.tests, "fix": self.fixes}
        return [replace(one, index=numbers[one.kind][one.index]) for one in prospects(self._outlook(), more)]

    def option(self, prospect: Prospect) -> Option:
        """The step with what it would tell or cure."""
        kind, index, minutes, expected = prospect.kind, prospect.index, prospect.minutes, prospect.expected_minutes
        if kind == "fix":
            cured = tuple(cause for cause in self.live if self.problem.fix_of[cause] == index)
            return Option(kind, index, minutes, expected, self._held(cured), cured)
        results = tuple(self._result(index, outcome) for outcome in range(len(self.problem.likelihood[index][0])))
        telling = max(results, key=lambda result: (result.mass * result.probability, -result.outcome))
        return Option(kind, index, minutes, expected, self._moved(index), telling.clears, results)

    def _outlook(self) -> Outlook:
        problem, number = self.problem, {fix: at for at, fix in enumerate(self.fixes)}
        repairs = Repairs(
            [problem.fix_minutes[fix] for fix in self.fixes],
            [number[problem.fix_of[cause]] for cause in self.live],
            [fix in problem.fix_inside for fix in self.fixes],
            0.0 if self.opened else problem.opening_minutes,
        )
        checks = [
            Check(problem.test_minutes[test], test in problem.test_inside, tuple(map(list, self._rows(test))))
            for test in self.tests
        ]
        return Outlook([self.belief[cause] for cause in self.live], repairs, checks)

    def _rows(self, test: int) -> list[tuple[float, ...]]:
        """P(outcome | cause) of the causes left, outcome by outcome."""
        table = self.problem.likelihood[test]
        return list(zip(*(table[cause] for cause in self.live), strict=True))

    def _tells(self, test: int) -> bool:
        return any(max(row) - min(row) > _TELLS_NOTHING for row in self._rows(test))

    def _held(self, causes: Iterable[int]) -> float:
        return math.fsum(self.belief[cause] for cause in causes)

    def _result(self, test: int, outcome: int) -> Result:
        table = self.problem.likelihood[test]
        most = max(table[cause][outcome] for cause in self.live)
        clears = tuple(cause for cause in self.live if table[cause][outcome] * CLEARS <= most)
        probability = math.fsum(self.belief[cause] * table[cause][outcome] for cause in self.live)
        return Result(outcome, probability, clears, self._held(clears))

    def _moved(self, test: int) -> float:
        """The belief that the outcome is expected to shift: mean total variation of the belief before and after."""
        shares = [self.belief[cause] for cause in self.live]
        moved = 0.0
        for row in self._rows(test):
            probability = math.fsum(share * p for share, p in zip(shares, row, strict=True))
            moved += math.fsum(share * abs(p - probability) for share, p in zip(shares, row, strict=True)) / 2.0
        return moved


def _seen(problem: Problem, outcomes: Mapping[int, int]) -> dict[int, int]:
    """The outcomes by test number, in the order of the tests; ValueError for one that is not there."""
    tests = numbered(outcomes, len(problem.test_minutes), "test")
    counts = [len(problem.likelihood[test][0]) for test in tests]
    shown = [numbered([one], count, "outcome")[0] for one, count in zip(outcomes.values(), counts, strict=True)]
    return dict(sorted(zip(tests, shown, strict=True)))


def _weighed(problem: Problem, seen: Mapping[int, int], prior: Sequence[float], least: float) -> list[float]:
    """Prior times likelihood in some scale, no likelihood below `least`; empty when nothing is left."""
    shares = list(prior)
    for test, shown in seen.items():
        shares = [share * max(row[shown], least) for share, row in zip(shares, problem.likelihood[test], strict=True)]
        top = max(shares)
        if top <= 0.0:
            return []
        shares = [share / top for share in shares]
    return shares
