"""Guide problems as the entries have them: covers, fixes that several causes share, tests with two to four outcomes.

Their exact optimum is worked out here by trying every plan; `kb.diagnosis.guide` is held against it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kb.diagnosis.guide import Action, Problem, next_action

Seen = tuple[tuple[int, int], ...]
Choose = Callable[[Problem, Mapping[int, int], frozenset[int], bool], Action]


def drawn(seed: int) -> Problem:
    """The problem of that seed: 3 to 5 causes, 2 to 4 fixes, 2 to 3 tests, a cover that costs 2 to 40 minutes."""
    g = np.random.default_rng(seed)
    causes, tests = int(g.integers(3, 6)), int(g.integers(2, 4))
    fixes = int(g.integers(2, min(causes, 4) + 1))
    fix_of = [
        *range(fixes),
        *(int(g.integers(0, fixes)) for _ in range(causes - fixes)),
    ]
    likelihood = []
    for _ in range(tests):
        outcomes = int(g.integers(2, 5))
        likelihood.append(
            [g.dirichlet(np.full(outcomes, 0.4)).tolist() for _ in range(causes)]
        )
    return Problem(
        prior=g.dirichlet(np.ones(causes)).tolist(),
        fix_of=fix_of,
        fix_minutes=np.exp(g.uniform(np.log(3), np.log(60), fixes)).tolist(),
        test_minutes=np.exp(g.uniform(np.log(1), np.log(30), tests)).tolist(),
        likelihood=likelihood,
        opening_minutes=float(np.exp(g.uniform(np.log(2), np.log(40)))),
        fix_inside=[fix for fix in range(fixes) if g.random() < 0.6],
        test_inside=[test for test in range(tests) if g.random() < 0.5],
    )


@dataclass(frozen=True)
class State:
    """Where a plan stands: tests done with what they showed, fixes that failed, whether the cover is off."""

    seen: Seen = ()
    failed: frozenset[int] = frozenset()
    opened: bool = False


class Plans:
    """Expected minutes of plans for one problem; without `choose` of the best one there is."""

    def __init__(self, problem: Problem, choose: Choose | None = None) -> None:
        self._problem = problem
        self._choose = choose
        self._known: dict[State, float] = {}

    def minutes(self) -> float:
        """From the beginning until the machine works."""
        return self._from(State(), list(self._problem.prior)) / sum(self._problem.prior)

    def _from(self, state: State, weights: Sequence[float]) -> float:
        live = [cause for cause, weight in enumerate(weights) if weight > 0]
        if not live:
            return 0.0
        if state not in self._known:
            self._known[state] = min(
                self._after(action, state, weights)
                for action in self._steps(state, live)
            )
        return self._known[state]

    def _steps(self, state: State, live: Sequence[int]) -> list[tuple[str, int]]:
        problem = self._problem
        if self._choose is not None:
            chosen = self._choose(problem, dict(state.seen), state.failed, state.opened)
            return [(chosen.kind, chosen.index)]
        done = {test for test, _ in state.seen}
        tests = [
            ("test", test)
            for test in range(len(problem.test_minutes))
            if test not in done
        ]
        return tests + [
            ("fix", fix) for fix in sorted({problem.fix_of[cause] for cause in live})
        ]

    def _after(
        self, step: tuple[str, int], state: State, weights: Sequence[float]
    ) -> float:
        kind, index = step
        problem = self._problem
        inside = index in (problem.fix_inside if kind == "fix" else problem.test_inside)
        own = (problem.fix_minutes if kind == "fix" else problem.test_minutes)[index]
        spent = (
            own + (problem.opening_minutes if inside and not state.opened else 0.0)
        ) * sum(weights)
        opened = state.opened or inside
        if kind == "fix":
            left = [
                0.0 if problem.fix_of[cause] == index else weight
                for cause, weight in enumerate(weights)
            ]
            return spent + self._from(
                State(state.seen, state.failed | {index}, opened), left
            )
        for outcome in range(len(problem.likelihood[index][0])):
            shown = [
                weight * problem.likelihood[index][cause][outcome]
                for cause, weight in enumerate(weights)
            ]
            seen = tuple(sorted((*state.seen, (index, outcome))))
            spent += self._from(State(seen, state.failed, opened), shown)
        return spent


def ours(
    problem: Problem, seen: Mapping[int, int], failed: frozenset[int], opened: bool
) -> Action:
    """The guide's own choice."""
    return next_action(problem, seen, failed, opened)
