"""Looking ahead over covers: exact on small problems, and never far from the optimum."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

import pytest
from helpers.covered import Plans, drawn, ours
from helpers.oracle import instance, optimum, paid

from kb.diagnosis.guide import Problem, next_action, weigh

Weights = tuple[float, ...]

PROBLEMS = [drawn(seed) for seed in range(60)]


@dataclass(frozen=True)
class Exact:
    """Every plan of a small problem, tried out: minutes times the probability of coming to where they are asked."""

    problem: Problem

    def least(self, weights: Weights, tests: frozenset[int], opened: bool) -> float:
        """The minutes of the best plan from here on."""
        if not any(weights):
            return 0.0
        fixes = {
            fix
            for fix, weight in zip(self.problem.fix_of, weights, strict=True)
            if weight
        }
        plans = [self.fixing(fix, weights, tests, opened) for fix in fixes]
        return min(
            plans + [self.testing(test, weights, tests, opened) for test in tests]
        )

    def fixing(
        self, fix: int, weights: Weights, tests: frozenset[int], opened: bool
    ) -> float:
        """The minutes of this fix and, where it does not cure, of the best plan after it."""
        given, inside = self.problem, fix in self.problem.fix_inside
        step = given.fix_minutes[fix] + given.opening_minutes * (inside and not opened)
        left = tuple(
            0.0 if cured == fix else one
            for cured, one in zip(given.fix_of, weights, strict=True)
        )
        return step * sum(weights) + self.least(left, tests, opened or inside)

    def testing(
        self, test: int, weights: Weights, tests: frozenset[int], opened: bool
    ) -> float:
        """The minutes of this test and of the best plan after each of its outcomes."""
        given, inside = self.problem, test in self.problem.test_inside
        step = given.test_minutes[test] + given.opening_minutes * (
            inside and not opened
        )
        spent, table = step * sum(weights), given.likelihood[test]
        for shown in range(len(table[0])):
            left = tuple(
                one * row[shown] for one, row in zip(weights, table, strict=True)
            )
            spent += self.least(left, tests - {test}, opened or inside)
        return spent


def tiny(seed: int) -> Problem:
    """Three or four causes under two or three fixes, and two tests of two or three outcomes, some under a cover."""
    chance = random.Random(seed)
    causes, fixes = chance.randint(3, 4), chance.randint(2, 3)
    table = []
    for _ in range(2):
        outcomes = chance.randint(2, 3)
        rows = [
            [chance.random() ** 3 + 0.01 for _ in range(outcomes)]
            for _ in range(causes)
        ]
        table.append([[share / sum(row) for share in row] for row in rows])
    prior = [chance.random() + 0.05 for _ in range(causes)]
    return Problem(
        prior=[share / sum(prior) for share in prior],
        fix_of=[
            *range(fixes),
            *(chance.randrange(fixes) for _ in range(causes - fixes)),
        ],
        fix_minutes=[chance.uniform(5, 60) for _ in range(fixes)],
        test_minutes=[chance.uniform(0.5, 6) for _ in range(2)],
        likelihood=table,
        opening_minutes=chance.choice([0.0, 8.0]),
        fix_inside=[chance.random() < 0.5 for _ in range(fixes)],
        test_inside=[chance.random() < 0.5 for _ in range(2)],
    )


def test_each_step_of_a_small_problem_is_weighed_as_if_every_plan_after_it_were_tried() -> (
    None
):
    """In 38 of 40; in two it is told up to 2 in 1,000 too dear, since of the fixes only one is thought of at a time."""
    every, ratios = frozenset(range(2)), []
    for seed in range(40):
        problem = tiny(seed)
        prior, exact, found = tuple(problem.prior), Exact(problem), weigh(problem)
        steps = [exact.testing if one.kind == "test" else exact.fixing for one in found]
        values = [
            step(one.index, prior, every, opened=False)
            for step, one in zip(steps, found, strict=True)
        ]
        told = [
            one.expected_minutes / value
            for one, value in zip(found, values, strict=True)
        ]
        ratios.append((min(told), max(told)))

    assert min(low for low, _ in ratios) >= 1 - 1e-9
    assert sum(high <= 1 + 1e-9 for _, high in ratios) >= 38
    assert max(high for _, high in ratios) <= 1.002


def _hardly(cause: int, outcomes: int) -> list[float]:
    """The chances of a test that tells the causes apart by a hundredth."""
    first = 0.5 + 0.01 * (cause - 1)
    return [first, *[(1.0 - first) / (outcomes - 1)] * (outcomes - 1)]


@pytest.mark.parametrize("outcomes", [2, 3])
def test_the_one_test_that_tells_something_is_found_among_thirty(outcomes: int) -> None:
    """Forty minutes are saved by five; all others, though cheaper, tell next to nothing."""
    dull = [[_hardly(cause, outcomes) for cause in range(3)]] * 30
    sharp = [
        [float(shown == cause % outcomes) for shown in range(outcomes)]
        for cause in range(3)
    ]
    problem = Problem(
        [1 / 3] * 3, [0, 1, 2], [60, 70, 80], [4.0] * 30 + [5.0], [*dull, sharp]
    )

    best = weigh(problem)[0]

    assert (best.kind, best.index) == ("test", 30)
    assert best.expected_minutes == pytest.approx(
        {3: 5 + 70, 2: 5 + (60 + (60 + 80)) / 3 + 70 / 3}[outcomes], rel=0.02
    )


def test_the_guide_is_within_two_in_a_thousand_of_the_optimum_and_never_says_less_than_is_paid() -> (
    None
):
    """Measured on 281 such problems: mean 1.00003, worst 1.0047; the cover charged wrongly: worst 1.17 to 1.29."""
    ratios = []
    for number, problem in enumerate(PROBLEMS):
        best, paid = Plans(problem).minutes(), Plans(problem, ours).minutes()
        ratios.append(paid / best)
        assert next_action(problem).expected_minutes >= paid * (1 - 1e-9), number
    print(
        f"mean {sum(ratios) / len(ratios):.6f}, worst {max(ratios):.4f} of {len(ratios)}"
    )
    assert min(ratios) > 1 - 1e-9
    assert sum(ratios) / len(ratios) <= 1.002
    assert max(ratios) <= 1.02


def test_example_h_two_tests_that_pay_only_together() -> None:
    """Repairs only 90, one test 95, both 70: one step ahead says "do not test", two find it."""
    bits = [[[1, 0], [1, 0], [0, 1], [0, 1]], [[1, 0], [0, 1], [1, 0], [0, 1]]]

    action = next_action(Problem([0.25] * 4, [0, 1, 1, 0], [60, 60], [5, 5], bits))
    assert (action.kind, action.index) == ("test", 0)
    assert action.expected_minutes == pytest.approx(70)


@pytest.mark.parametrize("kind", ["base", "dear"])
def test_advice_followed_costs_hardly_more_than_the_best_plan(kind: str) -> None:
    seeds = [*range(8), *range(300, 304)]
    ratios = [
        paid(instance(seed, kind).problem()) / optimum(instance(seed, kind))
        for seed in seeds
    ]

    assert min(ratios) >= 1 - 1e-9
    assert max(ratios) <= 1.06
    assert math.fsum(ratios) / len(ratios) <= 1.01
