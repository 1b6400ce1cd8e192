"""What the guide gains: expected minutes of several policies, as a ratio to the exact optimum, in one table.

    PYTHONPATH=.:tests python tests/benchmarks/guide.py [--seeds N] [--kinds base dear ...]

The instances are those of `tests/helpers/oracle.py`. Every policy ends with the fix of the last cause left.
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Callable, Iterable, Mapping

from helpers.oracle import KINDS, Choose, instance, optimum, ours, paid

from kb.diagnosis.guide import Action, Problem, posterior
from kb.diagnosis.repairs import Repairs

Score = Callable[[Problem, tuple[float, ...], int], float]


def most_likely_first(
    problem: Problem, seen: Mapping[int, int], failed: frozenset[int]
) -> Action:
    """No tests: the fix of the likeliest cause."""
    return _fix(problem, posterior(problem, seen, failed), lambda p, _: p)


def probability_per_minute(
    problem: Problem, seen: Mapping[int, int], failed: frozenset[int]
) -> Action:
    """No tests: the fix with most probability a minute."""
    return _fix(
        problem, posterior(problem, seen, failed), lambda p, minutes: p / minutes
    )


def until_sure(score: Score, sure: float) -> Choose:
    """The test of the highest score until one cause is this sure."""

    def choose(
        problem: Problem, seen: Mapping[int, int], failed: frozenset[int]
    ) -> Action:
        belief = posterior(problem, seen, failed)
        left = [t for t in range(len(problem.test_minutes)) if t not in seen]
        if max(belief) >= sure or not left or sum(p > 0 for p in belief) == 1:
            return _fix(problem, belief, lambda p, _: p)
        return Action(
            "test", max(left, key=lambda t: (score(problem, belief, t), -t)), 0.0
        )

    return choose


def if_it_pays(score: Score) -> Choose:
    """The test of the highest score among those whose minutes the repairs after it save; else the best fix."""

    def choose(
        problem: Problem, seen: Mapping[int, int], failed: frozenset[int]
    ) -> Action:
        belief = posterior(problem, seen, failed)
        now = _repairs(problem, belief)
        paying = [
            t
            for t in range(len(problem.test_minutes))
            if t not in seen
            and problem.test_minutes[t] + _after(problem, belief, t) < now
        ]
        if not paying:
            return _fix(problem, belief, lambda p, minutes: p / minutes)
        return Action(
            "test", max(paying, key=lambda t: (score(problem, belief, t), -t)), 0.0
        )

    return choose


def cheapest(problem: Problem, _: tuple[float, ...], t: int) -> float:
    """The cheaper the better."""
    return -problem.test_minutes[t]


def information(problem: Problem, belief: tuple[float, ...], t: int) -> float:
    """Bits that the test is expected to tell of the cause."""
    told = 0.0
    for o in range(len(problem.likelihood[t][0])):
        joint = [
            p * row[o] for p, row in zip(belief, problem.likelihood[t], strict=True)
        ]
        chance = sum(joint)
        told += sum(
            j * math.log2(j / (chance * p))
            for j, p in zip(joint, belief, strict=True)
            if j > 0
        )
    return told


def information_per_minute(
    problem: Problem, belief: tuple[float, ...], t: int
) -> float:
    """Bits a minute."""
    return information(problem, belief, t) / problem.test_minutes[t]


def saving(problem: Problem, belief: tuple[float, ...], t: int) -> float:
    """Minutes that one test saves if repairs follow it (one step ahead)."""
    return (
        _repairs(problem, belief) - problem.test_minutes[t] - _after(problem, belief, t)
    )


POLICIES: dict[str, Choose] = {
    "most likely first, no tests": most_likely_first,
    "probability a minute, no tests": probability_per_minute,
    "cheapest test, until .8 sure": until_sure(cheapest, 0.8),
    "information, until .8 sure": until_sure(information, 0.8),
    "information a minute, until .8 sure": until_sure(information_per_minute, 0.8),
    "cheapest test, if it pays": if_it_pays(cheapest),
    "information a minute, if it pays": if_it_pays(information_per_minute),
    "one step ahead": if_it_pays(saving),
    "ours": ours,
}


def _repairs(problem: Problem, belief: Iterable[float]) -> float:
    return Repairs(list(problem.fix_minutes), list(problem.fix_of)).expected(
        list(belief)
    )


def _after(problem: Problem, belief: tuple[float, ...], t: int) -> float:
    return sum(
        _repairs(
            problem,
            [p * row[o] for p, row in zip(belief, problem.likelihood[t], strict=True)],
        )
        for o in range(len(problem.likelihood[t][0]))
    )


def _fix(
    problem: Problem, belief: tuple[float, ...], worth: Callable[[float, float], float]
) -> Action:
    live = [i for i, p in enumerate(belief) if p > 0]
    best = max(
        live,
        key=lambda i: (worth(belief[i], problem.fix_minutes[problem.fix_of[i]]), -i),
    )
    return Action("fix", problem.fix_of[best], 0.0)


def main() -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--seeds", type=int, default=40)
    options.add_argument("--kinds", nargs="*", default=list(KINDS))
    given = options.parse_args()
    print(
        f"ratio to the exact optimum, mean (worst), {given.seeds} instances of each kind"
    )
    print(
        f"{'policy':36}"
        + "".join(f"{kind:>18}" for kind in given.kinds)
        + f"{'seconds':>10}"
    )
    drawn = {
        kind: [instance(seed, kind) for seed in range(given.seeds)]
        for kind in given.kinds
    }
    best = {kind: [optimum(one) for one in drawn[kind]] for kind in given.kinds}
    for name, choose in POLICIES.items():
        started, cells = time.perf_counter(), ""
        for kind in given.kinds:
            problems = [one.problem() for one in drawn[kind]]
            ratios = [
                paid(p, choose=choose) / b
                for p, b in zip(problems, best[kind], strict=True)
            ]
            cells += f"{math.fsum(ratios) / len(ratios):10.4f} ({max(ratios):5.3f})"
        print(f"{name:36}{cells}{time.perf_counter() - started:10.1f}", flush=True)


if __name__ == "__main__":
    main()
