"""The lookahead of the guide: which test or fix now leaves the fewest expected minutes until the machine works."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import mul
from typing import Literal

from kb.diagnosis.repairs import Repairs

Kind = Literal["test", "fix"]

#: Work that looking ahead may cost, and then following the best plans to their end: causes looked at, about
#: 0.3 microseconds each on a desk machine. Work is counted, not timed, so that the answer never depends on the day.
BUDGET, FINISH = 7_000, 4_000

#: Tests followed up at each step ahead, best one-step value first.
BEAMS = (4, 3, 2, 2, 2, 2)

#: Steps that the search looks ahead at most before the finish, and in it.
DEEPEST, FINISH_DEEP = 6, 12

#: A stage one step deeper costs about this many times the last one.
GROWTH = 3.0

#: Tests weighed at the start, and at any later point of the plan, when there are more; tests remembered there.
WIDE, NARROW, KEPT = 20, 8, 16

#: The finish follows this many plans, leaving aside what is worth less than these shares of the minutes, in turn.
PLANS, CRUMBS = 2, (0.08, 0.04, 0.02, 0.01, 0.005)


@dataclass(frozen=True, slots=True)
class Check:
    """A test still to be had: its minutes, and `rows[outcome][cause]`, the probability of the outcome."""

    minutes: float
    inside: bool
    rows: tuple[list[float], ...]


@dataclass(frozen=True, slots=True)
class Prospect:
    """A next step, the minutes it takes itself, and the minutes expected until fixed if it is taken now."""

    kind: Kind
    index: int
    minutes: float
    expected_minutes: float


class _State:
    """A point in the plan: what is believed, weighed by the probability of getting here, and what is left to do."""

    __slots__ = ("floor", "key", "mass", "opened", "repair", "tests", "weights")

    def __init__(
        self,
        weights: list[float],
        repair: float,
        floor: float,
        tests: list[int],
        *,
        key: int,
        opened: bool,
    ) -> None:
        self.weights = weights
        self.mass = sum(weights)
        self.repair = repair
        self.floor = floor
        self.tests = tests
        self.key = key
        self.opened = opened


class _Branch:
    """A test at a point in the plan, with what each outcome would leave."""

    __slots__ = ("floor", "one_step", "opened", "outcomes", "states", "step", "test")

    def __init__(
        self,
        test: int,
        step: float,
        floor: float,
        opened: bool,
        outcomes: list[tuple[list[float], float]],
    ) -> None:
        self.test = test
        self.step = step
        self.floor = floor
        self.opened = opened
        self.outcomes = outcomes
        self.one_step = step + sum(repair for _, repair in outcomes)
        self.states: list[_State] | None = None


class Lookahead:
    """One decision: the causes believed in, the fixes and tests left; `prospects` gives the steps, best first.

    A test is followed by the best of more tests and repairs a few steps ahead, and by the best order of repairs
    where the looking stops (Heckerman, Breese and Rommelse 1995; two steps: Jensen and others 2001; both from
    memory). What no plan can save bounds the search. The work is counted, not timed, so that the same question has
    the same answer; `effort` is the part of it to spend.
    """

    def __init__(
        self,
        belief: Sequence[float],
        repairs: Repairs,
        checks: Sequence[Check],
        effort: float = 1.0,
    ) -> None:
        self._belief = list(belief)
        self._budget, self._finish = BUDGET * effort, FINISH * effort
        self._repairs = repairs
        self._checks = checks
        self._squares = [
            [[x * x for x in row] for row in check.rows] for check in checks
        ]
        self._unit = len(self._belief) + 6
        self._test_keys: list[int] = []
        key = 1
        for check in checks:
            self._test_keys.append(key)
            key *= len(check.rows) + 1
        self._fix_keys = [key << fix for fix in range(len(repairs.minutes))]
        self._known: dict[int, tuple[list[int], list[_Branch]]] = {}
        self._memo: dict[tuple[int, int], float] = {}
        self._work = 0
        self._limit = float("inf")
        self._beams: Sequence[int] = BEAMS
        self._depth = 0
        self._crumb = 0.0

    def prospects(self) -> list[Prospect]:
        """The steps worth weighing, fewest expected minutes first."""
        root = self._start()
        fix = self._repairs.first(root.weights, root.opened)
        values: dict[tuple[Kind, int], float] = {("fix", fix): root.repair}
        branches = self._branches(root, WIDE)[1]
        for branch in branches:
            values["test", branch.test] = branch.one_step
        if branches:
            self._deepen(root, fix, values)
        found = [
            Prospect(kind, index, self._own(root, kind, index), value)
            for (kind, index), value in values.items()
        ]
        return sorted(
            found,
            key=lambda step: (
                step.expected_minutes,
                step.kind,
                step.minutes,
                step.index,
            ),
        )

    def _start(self) -> _State:
        opened = self._repairs.opening == 0.0
        repair = self._repairs.expected(self._belief, opened)
        floor = self._repairs.least(self._belief, opened)
        return _State(
            self._belief,
            repair,
            floor,
            list(range(len(self._checks))),
            key=0,
            opened=opened,
        )

    def _own(self, root: _State, kind: Kind, index: int) -> float:
        if kind == "test":
            minutes, inside = self._checks[index].minutes, self._checks[index].inside
        else:
            minutes, inside = self._repairs.minutes[index], self._repairs.inside[index]
        return minutes + (self._repairs.opening if inside and not root.opened else 0.0)

    def _deepen(
        self, root: _State, fix: int, values: dict[tuple[Kind, int], float]
    ) -> None:
        """Look two steps ahead, three, and so on while the budget lasts, then finish the best plans."""
        self._crumb = 1e-12 * root.mass
        for depth in range(2, DEEPEST + 1):
            before = self._work
            best = sorted(values, key=lambda step: (values[step], step))
            chosen = [step for step in best if step[0] == "test"][: BEAMS[0]]
            self._look(root, [*chosen, ("fix", fix)], depth, values)
            if self._work + (self._work - before) * GROWTH > self._budget:
                break
        self._beams, self._limit = (1,) * FINISH_DEEP, self._work + self._finish
        for share in CRUMBS:
            if self._work > self._limit:
                break
            self._crumb = share * root.repair
            best = sorted(values, key=lambda step: (values[step], step))
            self._look(root, best[:PLANS], FINISH_DEEP, values)

    def _look(
        self,
        root: _State,
        steps: list[tuple[Kind, int]],
        depth: int,
        values: dict[tuple[Kind, int], float],
    ) -> None:
        """Value these first steps so many steps deep; a value only ever falls."""
        self._memo = {}
        self._depth = depth
        ranked, branches = self._branches(root, WIDE)
        by_test = {branch.test: branch for branch in branches}
        for kind, index in steps:
            if kind == "test":
                value = self._after_test(
                    root, by_test[index], ranked, depth, float("inf")
                )
            else:
                value = self._after_fix(root, index, ranked, depth, float("inf"))
            values[kind, index] = min(value, values[kind, index])

    def _value(self, state: _State, depth: int) -> float:
        """Minutes, times the probability of getting here, of the best plan found so many steps deep."""
        if (
            depth == 0
            or state.repair - state.floor <= self._crumb
            or self._work > self._limit
        ):
            return state.repair
        known = self._memo.get((state.key, depth))
        if known is not None:
            return known
        best = self._best_test(state) if depth == 1 else self._best_plan(state, depth)
        self._memo[state.key, depth] = best
        return best

    def _best_plan(self, state: _State, depth: int) -> float:
        ranked, branches = self._branches(state, NARROW)
        best = state.repair
        if not branches:
            return best
        best = min(best, branches[0].one_step)
        for branch in branches[: self._beams[self._depth - depth]]:
            best = min(best, self._after_test(state, branch, ranked, depth, best))
        fix = self._repairs.first(state.weights, state.opened)
        return min(best, self._after_fix(state, fix, ranked, depth, best))

    def _after_test(
        self, state: _State, branch: _Branch, ranked: list[int], depth: int, best: float
    ) -> float:
        """Minutes of this test and the best that follows; as soon as it cannot beat `best`, infinity."""
        if branch.step + branch.floor >= best:
            return float("inf")
        if branch.states is None:
            branch.states = self._states(state, branch, ranked)
        value, rest = branch.step, branch.floor
        for outcome in branch.states:
            rest -= outcome.floor
            value += self._value(outcome, depth - 1)
            if value + rest >= best:
                return float("inf")
        return value

    def _states(
        self, state: _State, branch: _Branch, ranked: list[int]
    ) -> list[_State]:
        """What each outcome leaves, the one with the most left to gain first."""
        tests = [test for test in ranked if test != branch.test]
        key, stride, states = state.key, self._test_keys[branch.test], []
        for weights, repair in branch.outcomes:
            key += stride
            floor = self._repairs.least(weights, branch.opened)
            states.append(
                _State(weights, repair, floor, tests, key=key, opened=branch.opened)
            )
        return sorted(states, key=lambda after: after.floor - after.repair)

    def _after_fix(
        self, state: _State, fix: int, ranked: list[int], depth: int, best: float
    ) -> float:
        """Minutes of this fix and, if it does not cure, the best that follows; infinity if it cannot beat `best`."""
        repairs = self._repairs
        step, opened = repairs.minutes[fix] * state.mass, state.opened
        if repairs.inside[fix] and not opened:
            step, opened = step + repairs.opening * state.mass, True
        weights = repairs.without(state.weights, fix)
        floor = repairs.least(weights, opened)
        if step + floor >= best:
            return float("inf")
        self._work += self._unit
        repair = repairs.expected(weights, opened)
        key = state.key + self._fix_keys[fix]
        return step + self._value(
            _State(weights, repair, floor, ranked, key=key, opened=opened), depth - 1
        )

    def _best_test(self, state: _State) -> float:
        """One step ahead: the best of repairing now and of one test before."""
        best, expected, least = (
            state.repair,
            self._repairs.expected,
            self._repairs.least,
        )
        for test, step, floor, opened in self._payable(state, NARROW):
            value, rest = step, floor
            if step + floor >= best:
                continue
            for row in self._checks[test].rows:
                weights = list(map(mul, state.weights, row))
                rest -= least(weights, opened)
                value += expected(weights, opened)
                self._work += self._unit
                if value + rest >= best:
                    break
            else:
                best = value
        return best

    def _branches(self, state: _State, width: int) -> tuple[list[int], list[_Branch]]:
        """The tests that could pay here, best one-step value first, and all tests in that order."""
        known = self._known.get(state.key)
        if known is not None:
            return known
        branches = []
        for test, step, floor, opened in self._payable(state, width):
            outcomes = []
            for row in self._checks[test].rows:
                weights = list(map(mul, state.weights, row))
                outcomes.append((weights, self._repairs.expected(weights, opened)))
                self._work += self._unit
            branches.append(_Branch(test, step, floor, opened, outcomes))
        branches.sort(key=lambda branch: (branch.one_step, branch.step, branch.test))
        ranked = [branch.test for branch in branches]
        shown = set(ranked)
        ranked += [test for test in state.tests if test not in shown]
        del ranked[KEPT:]
        self._known[state.key] = ranked, branches
        return ranked, branches

    def _payable(
        self, state: _State, width: int
    ) -> list[tuple[int, float, float, bool]]:
        """The tests that would pay if they told everything: number, minutes, floor after it, cover off after it."""
        repairs, mass = self._repairs, state.mass
        floor_inside = state.floor if state.opened else repairs.least(state.weights)
        found = []
        for test in state.tests:
            check = self._checks[test]
            if check.inside and not state.opened:
                step, floor, opened = (
                    (check.minutes + repairs.opening) * mass,
                    floor_inside,
                    True,
                )
            else:
                step, floor, opened = check.minutes * mass, state.floor, state.opened
            if step + floor < state.repair:
                found.append((test, step, floor, opened))
        return found if len(found) <= width else self._sharpest(state, found, width)

    def _sharpest(
        self, state: _State, found: list[tuple[int, float, float, bool]], width: int
    ) -> list[tuple[int, float, float, bool]]:
        """The tests of most promise by a quick look: the share of doubt each removes, against its minutes.

        The share is the mean square contingency of outcome and cause: 0 for a useless test, 1 for a perfect split.
        """
        scored = []
        for item in found:
            test, step, floor, _ = item
            share = self._share(state, test)
            self._work += self._unit // 3
            scored.append(
                (step - (state.repair - floor) * share / state.mass, test, item)
            )
        return [item for _, _, item in sorted(scored)[:width]]

    def _share(self, state: _State, test: int) -> float:
        rows, squares = self._checks[test].rows, self._squares[test]
        total = state.mass
        if len(rows) == 2:
            first: float = sum(map(mul, state.weights, rows[0]))
            square: float = sum(map(mul, state.weights, squares[0]))
            second = total - first
            if first <= 0.0 or second <= 0.0:
                return 0.0
            return square / first + (total - first - first + square) / second - total
        share = -total
        for row, squared in zip(rows, squares, strict=True):
            probability = sum(map(mul, state.weights, row))
            if probability > 0.0:
                share += sum(map(mul, state.weights, squared)) / probability
        return share
