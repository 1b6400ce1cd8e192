"""The guide: the test or fix that leaves the fewest expected minutes until the machine works."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from operator import mul

from kb.diagnosis.lookahead import Check, Kind, Lookahead
from kb.diagnosis.repairs import Repairs

#: A cause this much less likely than all others together is out of the question.
NEGLIGIBLE = 1e-12


@dataclass(frozen=True)
class Problem:
    """What may be wrong and what can be done about it.

    `prior[i]` is P(cause i), in any scale; `fix_of[i]` the fix that cures cause i (several causes may share one);
    `fix_minutes` and `test_minutes` bench minutes; `likelihood[t][i][o]` P(outcome o of test t | cause i).
    Taking the cover off costs `opening_minutes` once a job, before the first fix of `fix_inside` or test of
    `test_inside` (indexes, or a flag for each). Exactly one cause is present; outcomes are independent given the
    cause; a test is done at most once; a fix cures its causes for certain and nothing else.

    Raises ValueError with one sentence when the shapes do not fit.
    """

    prior: Sequence[float]
    fix_of: Sequence[int]
    fix_minutes: Sequence[float]
    test_minutes: Sequence[float] = ()
    likelihood: Sequence[Sequence[Sequence[float]]] = ()
    opening_minutes: float = 0.0
    fix_inside: Sequence[int] = ()
    test_inside: Sequence[int] = ()

    def __post_init__(self) -> None:
        plain = {
            "prior": tuple(map(float, self.prior)),
            "fix_of": tuple(map(int, self.fix_of)),
            "fix_minutes": tuple(map(float, self.fix_minutes)),
            "test_minutes": tuple(map(float, self.test_minutes)),
            "likelihood": tuple(
                tuple(tuple(map(float, row)) for row in test)
                for test in self.likelihood
            ),
            "opening_minutes": float(self.opening_minutes),
            "fix_inside": _indexes(self.fix_inside, len(self.fix_minutes)),
            "test_inside": _indexes(self.test_inside, len(self.test_minutes)),
        }
        for name, value in plain.items():
            object.__setattr__(self, name, value)
        _check(self)


@dataclass(frozen=True, slots=True)
class Action:
    """What to do now, and the expected minutes from now on until the machine works."""

    kind: Kind
    index: int
    expected_minutes: float


@dataclass(frozen=True, slots=True)
class Option:
    """A step worth weighing: its own minutes, and the expected minutes until it works if it is taken now."""

    kind: Kind
    index: int
    minutes: float
    expected_minutes: float


def next_action(
    problem: Problem,
    outcomes: Mapping[int, int] | None = None,
    failed: Iterable[int] = (),
    opened: bool = False,
) -> Action:
    """The test or fix to take now.

    `outcomes` are the tests done and what they showed, `failed` the fixes that did not help, `opened` whether the
    cover is off. Ties: cheaper first, then the lower number. Raises ValueError when no cause is left.

    >>> one_bit_each = [[[1, 0], [1, 0], [0, 1], [0, 1]], [[1, 0], [0, 1], [1, 0], [0, 1]]]
    >>> next_action(Problem([1, 1, 1, 1], [0, 1, 1, 0], [60, 60], [5, 5], one_bit_each))
    Action(kind='test', index=0, expected_minutes=70.0)
    """
    best = weigh(problem, outcomes, failed, opened)[0]
    return Action(best.kind, best.index, best.expected_minutes)


def weigh(
    problem: Problem,
    outcomes: Mapping[int, int] | None = None,
    failed: Iterable[int] = (),
    opened: bool = False,
    effort: float = 1.0,
) -> tuple[Option, ...]:
    """The steps worth weighing, the one with the fewest expected minutes first.

    `effort` is the part of the usual work to spend on looking ahead: less is quicker and plans less far.
    """
    outcomes, failed = dict(outcomes or {}), set(failed)
    _check_told(problem, outcomes, failed)
    belief = posterior(problem, outcomes, failed)
    live = _live(belief)
    if not live:
        raise ValueError("every cause has been ruled out; look beyond what is listed")
    fixes = sorted({problem.fix_of[cause] for cause in live})
    tests = [test for test in range(len(problem.test_minutes)) if test not in outcomes]
    repairs = _repairs(problem, live, fixes, opened)
    checks = [_check_of(problem, test, live) for test in tests]
    prospects = Lookahead(
        [belief[cause] for cause in live], repairs, checks, effort
    ).prospects()
    numbers = {"test": tests, "fix": fixes}
    return tuple(
        Option(
            one.kind, numbers[one.kind][one.index], one.minutes, one.expected_minutes
        )
        for one in prospects
    )


def _live(belief: Sequence[float]) -> list[int]:
    """The causes that are not out of the question."""
    return [cause for cause, share in enumerate(belief) if share > NEGLIGIBLE]


def _repairs(
    problem: Problem, live: Sequence[int], fixes: Sequence[int], opened: bool
) -> Repairs:
    """The fixes of the causes still believed in, by their place in `fixes`."""
    place = {fix: at for at, fix in enumerate(fixes)}
    return Repairs(
        minutes=[problem.fix_minutes[fix] for fix in fixes],
        cured_by=[place[problem.fix_of[cause]] for cause in live],
        inside=[fix in problem.fix_inside for fix in fixes],
        opening=0.0 if opened else problem.opening_minutes,
    )


def _check_of(problem: Problem, test: int, live: Sequence[int]) -> Check:
    """A test with a row for each outcome over the causes still believed in."""
    of_causes = [problem.likelihood[test][cause] for cause in live]
    rows = tuple(list(row) for row in zip(*of_causes, strict=True))
    return Check(problem.test_minutes[test], test in problem.test_inside, rows)


def minutes_testing_first(
    problem: Problem,
    test: int,
    failed: Iterable[int] = (),
    opened: bool = False,
    effort: float = 1.0,
) -> float:
    """The expected minutes until the machine works if that test is done now, whatever would be better.

    Its own minutes, the cover's if it is the first to need it off, and what each outcome leaves, weighed by its
    probability. `effort` is shared by the outcomes.

    >>> one_bit_each = [[[1, 0], [1, 0], [0, 1], [0, 1]], [[1, 0], [0, 1], [1, 0], [0, 1]]]
    >>> minutes_testing_first(Problem([1, 1, 1, 1], [0, 1, 1, 0], [60, 60], [5, 5], one_bit_each), 1)
    70.0
    """
    failed = set(failed)
    inside = test in problem.test_inside
    spent = problem.test_minutes[test] + problem.opening_minutes * (
        inside and not opened
    )
    belief = posterior(problem, {}, failed)
    table = problem.likelihood[test]
    for shown in range(len(table[0])):
        chance = math.fsum(map(mul, belief, [row[shown] for row in table]))
        if chance > NEGLIGIBLE:
            left = weigh(
                problem, {test: shown}, failed, opened or inside, effort / len(table[0])
            )
            spent += chance * left[0].expected_minutes
    return spent


def posterior(
    problem: Problem,
    outcomes: Mapping[int, int] | None = None,
    failed: Iterable[int] = (),
) -> tuple[float, ...]:
    """P(cause | outcomes, failed fixes), summing to one, or all zero when every cause is ruled out.

    Outcomes that were impossible under every cause left are passed over, the latest first.

    >>> posterior(Problem([1, 1], [0, 1], [5, 5], [1], [[[0.9, 0.1], [0.3, 0.7]]]), {0: 0})
    (0.75, 0.25)
    """
    shares = _without_failed(problem, set(failed))
    for test, shown in (outcomes or {}).items():
        after = [
            share * problem.likelihood[test][cause][shown]
            for cause, share in enumerate(shares)
        ]
        top = max(after, default=0.0)
        if top > 0.0:
            shares = [share / top for share in after]
    whole = math.fsum(shares)
    return tuple(share / whole for share in shares) if whole > 0.0 else tuple(shares)


def _without_failed(problem: Problem, failed: set[int]) -> list[float]:
    """The priors without the causes whose fix did not help; equal ones where those left had no prior at all."""
    left = [float(fix not in failed) for fix in problem.fix_of]
    shares = list(map(mul, problem.prior, left))
    return shares if any(shares) else left


def ambiguity_group(
    problem: Problem,
    outcomes: Mapping[int, int] | None = None,
    failed: Iterable[int] = (),
    alike: float = 0.05,
) -> tuple[int, ...]:
    """The causes that no test left tells from the likeliest one, itself among them (IEEE 1522).

    Two causes are told apart when some outcome differs by more than `alike` in probability.

    >>> ambiguity_group(Problem([3, 2, 1], [0, 1, 2], [5, 5, 5], [1], [[[0.9, 0.1], [0.9, 0.1], [0.1, 0.9]]]))
    (0, 1)
    """
    outcomes = dict(outcomes or {})
    belief = posterior(problem, outcomes, failed)
    live = _live(belief)
    if not live:
        return ()
    top = max(live, key=lambda cause: (belief[cause], -cause))
    left = [
        table for test, table in enumerate(problem.likelihood) if test not in outcomes
    ]

    def is_like_the_top(cause: int) -> bool:
        pairs = ((table[top], table[cause]) for table in left)
        return all(
            abs(a - b) <= alike
            for one, other in pairs
            for a, b in zip(one, other, strict=True)
        )

    return tuple(cause for cause in live if is_like_the_top(cause))


def _indexes(given: Sequence[int], count: int) -> tuple[int, ...]:
    """Indexes from indexes, or from one flag for each."""
    listed = list(given)
    # the second is numpy's
    flags = [flag for flag in listed if type(flag).__name__ in ("bool", "bool_")]
    if listed and len(flags) == len(listed) == count:
        return tuple(at for at, flag in enumerate(listed) if flag)
    return tuple(sorted({int(at) for at in listed}))


def _check_told(
    problem: Problem, outcomes: Mapping[int, int], failed: set[int]
) -> None:
    for test, shown in outcomes.items():
        if not 0 <= test < len(problem.test_minutes):
            raise ValueError(f"there is no test {test}; number them from 0")
        if not 0 <= shown < len(problem.likelihood[test][0]):
            raise ValueError(f"test {test} has no outcome {shown}; number them from 0")
    for fix in failed:
        if not 0 <= fix < len(problem.fix_minutes):
            raise ValueError(f"there is no fix {fix}; number them from 0")


def _check(problem: Problem) -> None:
    """Raise ValueError with one sentence when the shapes do not fit."""
    causes, fixes, tests = (
        len(problem.prior),
        len(problem.fix_minutes),
        len(problem.test_minutes),
    )
    if not causes:
        raise ValueError("a problem needs at least one cause")
    if len(problem.fix_of) != causes or not _within(problem.fix_of, fixes):
        raise ValueError(
            "fix_of must name, for each cause, one of the fixes in fix_minutes"
        )
    if len(problem.likelihood) != tests:
        raise ValueError("likelihood must hold, for each test, one row for each cause")
    for table in problem.likelihood:
        _check_table(table, causes)
    numbers = [
        *problem.prior,
        *problem.fix_minutes,
        *problem.test_minutes,
        problem.opening_minutes,
    ]
    if not all(map(_is_amount, numbers)):
        raise ValueError("probabilities and minutes must be finite and not below zero")
    if not _within(problem.fix_inside, fixes):
        raise ValueError("fix_inside names one that is not there")
    if not _within(problem.test_inside, tests):
        raise ValueError("test_inside names one that is not there")


def _check_table(table: Sequence[Sequence[float]], causes: int) -> None:
    """Raise ValueError when the rows of one test do not fit."""
    if len(table) != causes:
        raise ValueError("likelihood must hold, for each test, one row for each cause")
    if not table[0] or any(len(row) != len(table[0]) for row in table):
        raise ValueError("the rows of a test must have the same outcomes, at least one")
    if not all(_is_amount(share) for row in table for share in row):
        raise ValueError("probabilities and minutes must be finite and not below zero")


def _within(indexes: Iterable[int], count: int) -> bool:
    return all(0 <= at < count for at in indexes)


def _is_amount(value: float) -> bool:
    return math.isfinite(value) and value >= 0.0
