"""The exact optimum of small guide problems, and the exact value of our policy on them: what the guide is held against.

The problem of the simulation: one of n causes, each with its own fix; tests with two outcomes; a failed fix rules its
cause out; the last one left still costs its fix. Minutes are in no unit that matters.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kb.diagnosis.guide import Action, Problem, next_action

Array = NDArray[np.float64]

#: Bounds of fix minutes, and of P(positive) for covered and other causes.
KINDS = {
    "base": (5, 60, 0.70, 0.98, 0.02, 0.20),
    "dear": (30, 240, 0.70, 0.98, 0.02, 0.20),
    "noisy": (5, 60, 0.55, 0.85, 0.10, 0.40),
    "dear and noisy": (30, 240, 0.55, 0.85, 0.10, 0.40),
}


@dataclass(frozen=True)
class Instance:
    """One drawn problem: prior, test minutes, fix minutes, P(positive) by test and cause."""

    prior: Array
    tests: Array
    fixes: Array
    positive: Array

    def problem(self) -> Problem:
        """The instance as the guide takes it."""
        likelihood = [[[float(p), float(1 - p)] for p in row] for row in self.positive]
        return Problem(
            self.prior.tolist(),
            range(len(self.prior)),
            self.fixes.tolist(),
            self.tests.tolist(),
            likelihood,
        )


def instance(seed: int, kind: str = "base") -> Instance:
    """The instance of that seed, drawn in the stated order."""
    low, high, a, b, d, e = KINDS[kind]
    g = np.random.default_rng(seed)
    n, m = int(g.integers(4, 9)), int(g.integers(4, 11))
    prior = g.dirichlet(np.ones(n))
    tests = np.exp(g.uniform(math.log(1), math.log(60), m))
    fixes = np.exp(g.uniform(math.log(low), math.log(high), n))
    rows = []
    for _ in range(m):
        covered = g.random(n) < 0.4
        while not covered.any() or covered.all():
            covered = g.random(n) < 0.4
        rows.append(np.where(covered, g.uniform(a, b, n), g.uniform(d, e, n)))
    return Instance(prior, tests, fixes, np.array(rows))


def optimum(given: Instance) -> float:
    """Expected minutes of the best plan: dynamic programming over causes left and outcomes seen."""
    n, m = len(given.prior), len(given.tests)
    weights = given.prior[:, None].copy()
    for t in range(m):
        p = given.positive[t][:, None]
        weights = np.concatenate([weights, weights * p, weights * (1 - p)], axis=1)
    states = weights.shape[1]
    left = np.zeros((1 << n, states))
    for causes in range(1, 1 << n):
        left[causes] = (
            left[causes & (causes - 1)] + weights[(causes & -causes).bit_length() - 1]
        )
    value = np.zeros((1 << n, states))
    codes = np.arange(states)
    done = sum(((codes // 3**t) % 3 > 0).astype(int) for t in range(m))
    for count in range(m, -1, -1):
        here = np.nonzero(done == count)[0]
        mass = left[:, here]
        best = np.full((1 << n, len(here)), np.inf)
        for t in range(m):
            open_ = np.nonzero((here // 3**t) % 3 == 0)[0]
            if len(open_):
                code = here[open_]
                tested = (
                    given.tests[t] * mass[:, open_]
                    + value[:, code + 3**t]
                    + value[:, code + 2 * 3**t]
                )
                best[:, open_] = np.minimum(best[:, open_], tested)
        best[0] = 0.0
        for causes in range(1, 1 << n):
            for fix in range(n):
                if causes >> fix & 1:
                    fixed = given.fixes[fix] * mass[causes] + best[causes ^ (1 << fix)]
                    np.minimum(best[causes], fixed, out=best[causes])
        value[:, here] = best
    return float(value[-1, 0])


Choose = Callable[[Problem, Mapping[int, int], frozenset[int]], Action]


def ours(problem: Problem, seen: Mapping[int, int], failed: frozenset[int]) -> Action:
    """The guide's own choice."""
    return next_action(problem, seen, failed)


def paid(decide: Problem, truth: Problem | None = None, choose: Choose = ours) -> float:
    """Expected minutes of following a policy on `decide`, paid under `truth` (the same unless given)."""
    truth = truth or decide
    known: dict[tuple[tuple[tuple[int, int], ...], frozenset[int]], float] = {}

    def value(
        seen: dict[int, int], failed: frozenset[int], weights: list[float]
    ) -> float:
        live = [i for i in range(len(weights)) if truth.fix_of[i] not in failed]
        mass = sum(weights[i] for i in live)
        key = (tuple(sorted(seen.items())), failed)
        if mass <= 0.0:
            return 0.0
        if key not in known:
            known[key] = step(seen, failed, weights, live, mass)
        return known[key]

    def step(
        seen: dict[int, int],
        failed: frozenset[int],
        weights: list[float],
        live: list[int],
        mass: float,
    ) -> float:
        action = choose(decide, seen, failed)
        if action.kind == "fix":
            rest = [i for i in live if truth.fix_of[i] != action.index]
            spent = truth.fix_minutes[action.index] * mass
            return spent + (
                value(seen, failed | {action.index}, weights) if rest else 0.0
            )
        table = truth.likelihood[action.index]
        spent = truth.test_minutes[action.index] * mass
        for outcome in range(len(table[0])):
            after = [w * table[i][outcome] for i, w in enumerate(weights)]
            spent += value({**seen, action.index: outcome}, failed, after)
        return spent

    return value({}, frozenset(), list(truth.prior))
