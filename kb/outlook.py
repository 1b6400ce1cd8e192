"""The points that a job can come to by tests and fixes, and what each could cost at best and without a test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import mul
from typing import NamedTuple

from kb.repairs import Repairs

#: Of the doubt that a test splits off, about this share is saved. On the instances of tests/oracle.py the median is
#: .56; with .62 the minutes that `kb.forecast` estimates from it are right on average for all four kinds.
SAVED = 0.62

#: No test is thought to save more of the doubt than this.
_NEARLY_ALL = 0.999


@dataclass(frozen=True, slots=True)
class Check:
    """A test still to be had: its minutes, and `rows[outcome][cause]`, the probability of the outcome."""

    minutes: float
    inside: bool
    rows: tuple[list[float], ...]


class State:
    """A point in a job: the causes, weighed by the probability of getting here, and the tests left.

    `repair` is the minutes of repairing without another test, `floor` those that no plan can save. Both are weighed
    too, so that the figures of the points that a step can lead to add up.
    """

    __slots__ = ("floor", "key", "mass", "opened", "repair", "tests", "weights")

    def __init__(
        self, weights: list[float], repair: float, floor: float, tests: list[int], key: int, opened: bool
    ) -> None:
        self.weights = weights
        self.mass = sum(weights)
        self.repair = repair
        self.floor = floor
        self.tests = tests
        self.key = key
        self.opened = opened


class Payable(NamedTuple):
    """A test that would pay if it told everything: its weighed minutes, and the floor and cover after it."""

    test: int
    step: float
    floor: float
    opened: bool


class Branch:
    """A test taken at some point: what each outcome leaves, as weights and as minutes of repairing."""

    __slots__ = ("floor", "one_step", "opened", "outcomes", "states", "step", "test")

    def __init__(self, payable: Payable, outcomes: list[tuple[list[float], float]]) -> None:
        self.test, self.step, self.floor, self.opened = payable
        self.outcomes = outcomes
        self.one_step = self.step + sum(repair for _, repair in outcomes)
        self.states: list[State] | None = None


class Outlook:
    """What is believed, the fixes and tests left, and every point that a job can come to from here.

    `work` counts the causes looked at, about 0.3 microseconds each on a desk machine: a search that keeps to a
    number of them gives the same answer on every machine and every day.
    """

    def __init__(self, belief: Sequence[float], repairs: Repairs, checks: Sequence[Check]) -> None:
        self.repairs = repairs
        self.checks = checks
        self.unit = len(belief) + 6
        self.work = 0
        self._squares: dict[int, list[list[float]]] = {}
        self._strides: list[int] = []
        stride = 1
        for check in checks:
            self._strides.append(stride)
            stride *= len(check.rows) + 1
        self._fix_keys = [stride << fix for fix in range(len(repairs.minutes))]
        weights, opened = list(belief), repairs.opening == 0.0
        repair, floor = repairs.expected(weights, opened), repairs.least(weights, opened)
        self.start = State(weights, repair, floor, list(range(len(checks))), 0, opened)

    def payable(self, state: State) -> list[Payable]:
        """The tests left here that would pay if they told everything."""
        repairs, mass, found = self.repairs, state.mass, []
        floor_inside = state.floor if state.opened else repairs.least(state.weights)
        for test in state.tests:
            check = self.checks[test]
            if check.inside and not state.opened:
                step, floor, opened = (check.minutes + repairs.opening) * mass, floor_inside, True
            else:
                step, floor, opened = check.minutes * mass, state.floor, state.opened
            if step + floor < state.repair:
                found.append(Payable(test, step, floor, opened))
        return found

    def branch(self, state: State, payable: Payable) -> Branch:
        """The test taken here."""
        expected, opened, outcomes = self.repairs.expected, payable.opened, []
        for row in self.checks[payable.test].rows:
            weights = list(map(mul, state.weights, row))
            outcomes.append((weights, expected(weights, opened)))
            self.work += self.unit
        return Branch(payable, outcomes)

    def after_test(self, state: State, branch: Branch, tests: Sequence[int]) -> list[State]:
        """The points that the outcomes lead to, most left to gain first; of `tests` the one taken is no longer left."""
        if branch.states is None:
            left = [test for test in tests if test != branch.test]
            least, key, stride, states = self.repairs.least, state.key, self._strides[branch.test], []
            for weights, repair in branch.outcomes:
                key += stride
                states.append(State(weights, repair, least(weights, branch.opened), left, key, branch.opened))
            branch.states = sorted(states, key=lambda after: after.floor - after.repair)
        return branch.states

    def fix_step(self, state: State, fix: int) -> float:
        """Weighed minutes of trying the fix here, opening included where it is due."""
        repairs = self.repairs
        return (repairs.minutes[fix] + (0.0 if state.opened else repairs.opening * repairs.inside[fix])) * state.mass

    def after_fix(self, state: State, fix: int, tests: list[int]) -> State:
        """The point that the job comes to when the fix does not help."""
        repairs, opened = self.repairs, state.opened or self.repairs.inside[fix]
        weights = repairs.without(state.weights, fix)
        self.work += self.unit
        repair, floor = repairs.expected(weights, opened), repairs.least(weights, opened)
        return State(weights, repair, floor, tests, state.key + self._fix_keys[fix], opened)

    def saving(self, state: State, test: int) -> float:
        """About which share of the doubt here the test would save: 0 if it tells nothing, less than 1; quickly found.

        `SAVED` times the mean square contingency of outcome and cause (Pearson), which is 0 when the outcome does
        not depend on the cause and 1 when two outcomes split the causes cleanly.
        """
        self.work += self.unit // 3
        weights, rows, squares = state.weights, self.checks[test].rows, self._squares.get(test)
        if squares is None:
            squares = self._squares[test] = [list(map(mul, row, row)) for row in rows]
        if len(rows) == 2:  # the second outcome follows from the first: half the work
            first: float = sum(map(mul, weights, rows[0]))
            square: float = sum(map(mul, weights, squares[0]))
            second = state.mass - first
            if first <= 0.0 or second <= 0.0:
                return 0.0
            contingency = square / first + (second - first + square) / second - 1.0
        else:
            chances = [(sum(map(mul, weights, row)), each) for row, each in zip(rows, squares, strict=True)]
            contingency = sum(sum(map(mul, weights, each)) / chance for chance, each in chances if chance > 0.0) - 1.0
        return min(max(SAVED * contingency, 0.0), _NEARLY_ALL)
