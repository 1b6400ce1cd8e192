"""The search behind the guide: the first steps worth taking, valued by looking a few steps ahead."""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul

from kb.outlook import Branch, Outlook, Payable, State

#: A step of a plan: a test with its outcomes, or the number of a fix.
Act = Branch | int

#: Work that looking ahead may cost (see `Outlook.work`); with more than `LARGE`, causes times tests, it would buy
#: too few steps to be worth it.
BUDGET, LARGE = 5_500, 400

#: Tests followed up at each step ahead, best one-step value first, and how many steps ahead at most.
BEAMS = (4, 2, 2, 2, 1, 1)

#: A stage one step deeper costs about this many times the last one.
GROWTH = 2.0

#: Tests weighed at the start, and at any later point of the plan, when there are more; tests remembered there.
WIDE, NARROW, KEPT = 20, 8, 16

_NEVER = float("inf")


class Lookahead:
    """The plans from the start of an outlook: which first steps are worth weighing, and what comes after them.

    A test is followed by more tests and fixes a few steps ahead, and by the best order of repairs where the looking
    stops (Heckerman, Breese and Rommelse 1995; two steps: Jensen and others 2001). What no plan can save bounds it.
    """

    def __init__(self, outlook: Outlook) -> None:
        self.depth = 1
        self._outlook = outlook
        self._known: dict[int, tuple[list[int], list[Branch]]] = {}
        self._memo: dict[tuple[int, int], tuple[float, Act | None]] = {}
        self._nothing_to_gain = 1e-12 * outlook.start.mass

    def first_steps(self) -> list[tuple[Act, float]]:
        """The first steps worth weighing, each with the minutes of the best plan found for it, fewest first.

        One fix is always among them: the one with which repairing without tests would begin.
        """
        start = self._outlook.start
        fix = self._outlook.repairs.first(start.weights, start.opened)
        values: dict[Act, float] = {fix: start.repair}
        values |= {branch: branch.one_step for branch in self.branches(start, WIDE)[1]}
        if len(values) > 1 and self._outlook.unit * len(self._outlook.checks) <= LARGE:
            self._deepen(start, fix, values)
        return sorted(values.items(), key=self._rank)

    def planned(self, state: State, depth: int) -> tuple[Act | None] | None:
        """The step that the last look would take at a point so many steps from its end; None if it never came there."""
        known = self._memo.get((state.key, depth)) if depth > 1 else None
        return (known[1],) if known else None

    def branches(self, state: State, width: int = NARROW) -> tuple[list[int], list[Branch]]:
        """The tests left here, best one-step value first, and those of them that could pay with their outcomes."""
        known = self._known.get(state.key)
        if known is None:
            payable = self._outlook.payable(state)
            if len(payable) > width:
                payable = self._sharpest(state, payable, width)
            found = [self._outlook.branch(state, one) for one in payable]
            found.sort(key=lambda branch: (branch.one_step, branch.step, branch.test))
            ranked = [branch.test for branch in found]
            shown = set(ranked)
            ranked += [test for test in state.tests if test not in shown]
            known = self._known[state.key] = ranked[:KEPT], found
        return known

    def _rank(self, valued: tuple[Act, float]) -> tuple[float, int, float, int]:
        act, value = valued
        if isinstance(act, int):
            return value, 0, 0.0, act
        return value, 1, act.step, act.test

    def _sharpest(self, state: State, payable: list[Payable], width: int) -> list[Payable]:
        """The tests of most promise by a quick look: minutes that each would save, less its own."""
        outlook = self._outlook
        lost = {one: one.step - outlook.saving(state, one.test) * (state.repair - one.floor) for one in payable}
        return sorted(payable, key=lambda one: (lost[one], one.test))[:width]

    def _deepen(self, start: State, fix: int, values: dict[Act, float]) -> None:
        """Look two steps ahead, three, and so on while the budget lasts."""
        for depth in range(2, len(BEAMS) + 1):
            before = self._outlook.work
            best = [act for act, _ in sorted(values.items(), key=self._rank) if not isinstance(act, int)]
            self._look(start, [*best[: BEAMS[0]], fix], depth, values)
            if self._outlook.work + (self._outlook.work - before) * GROWTH > BUDGET:
                break

    def _look(self, start: State, acts: Sequence[Act], depth: int, values: dict[Act, float]) -> None:
        """Value these first steps so many steps deep; a value only ever falls."""
        self._memo, self.depth = {}, depth
        for act in acts:
            values[act] = min(values[act], self._after(start, act, depth, _NEVER))

    def _after(self, state: State, act: Act, depth: int, best: float) -> float:
        """Minutes of this step and the best that follows; as soon as they cannot be fewer than `best`, infinity."""
        ranked = self.branches(state)[0]
        if isinstance(act, int):
            step, after = self._outlook.fix_step(state, act), self._outlook.after_fix(state, act, ranked)
            return step + self._value(after, depth - 1) if step + after.floor < best else _NEVER
        value, rest = act.step, act.floor
        if value + rest >= best:
            return _NEVER
        for after in self._outlook.after_test(state, act, ranked):
            rest -= after.floor
            value += self._value(after, depth - 1)
            if value + rest >= best:
                return _NEVER
        return value

    def _value(self, state: State, depth: int) -> float:
        """Minutes, weighed, of the best plan found from here within so many steps."""
        if depth == 0 or state.repair - state.floor <= self._nothing_to_gain:
            return state.repair
        known = self._memo.get((state.key, depth))
        if known is None:
            known = (self._best_test(state), None) if depth == 1 else self._best_plan(state, depth)
            self._memo[state.key, depth] = known
        return known[0]

    def _best_plan(self, state: State, depth: int) -> tuple[float, Act | None]:
        best, chosen = state.repair, None
        branches = self.branches(state)[1]
        if not branches:
            return best, None
        if branches[0].one_step < best:
            best, chosen = branches[0].one_step, branches[0]
        fix = self._outlook.repairs.first(state.weights, state.opened)
        acts: list[Act] = [*branches[: BEAMS[self.depth - depth]], fix]
        for act in acts:
            value = self._after(state, act, depth, best)
            if value < best:
                best, chosen = value, act  # type: ignore[assignment]
        return best, chosen

    def _best_test(self, state: State) -> float:
        """The best of repairing now and of one test before."""
        outlook, best = self._outlook, state.repair
        expected, least = outlook.repairs.expected, outlook.repairs.least
        payable = outlook.payable(state)
        for test, step, floor, opened in payable if len(payable) <= NARROW else self._sharpest(state, payable, NARROW):
            value, rest = step, floor
            if value + rest >= best:
                continue
            for row in outlook.checks[test].rows:
                weights = list(map(mul, state.weights, row))
                outlook.work += outlook.unit
                value += expected(weights, opened)
                rest -= least(weights, opened)
                if value + rest >= best:
                    break
            else:
                best = value
        return best
