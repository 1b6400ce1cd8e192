"""Rules for chains and trees of lines, held against a proven ratio and an independent optimum."""

from __future__ import annotations

import random
from itertools import pairwise

import pytest
from helpers.checklists import (
    EXACT,
    Checklist,
    chains,
    computed,
    everything_again,
    least_minutes,
    minutes_of,
    wild,
)

from kb.machines.checkout.lines import read
from kb.machines.checkout.rules import ratio_rule
from kb.machines.checkout.sequence import expected_minutes


@pytest.mark.parametrize("lines", [9, 13, 28, 40])
@pytest.mark.parametrize(
    "ends", [0.0, 0.3, 1.0], ids=["Smith", "one g for all", "Mitten"]
)
def test_the_proven_ratio_is_met_where_every_repair_disturbs_everything(
    lines: int, ends: float
) -> None:
    """q/t for g = 0 (Smith 1956) and g = 1 (Mitten 1960); between them q/(t·(1 - g·(1 - g)·q))."""
    for seed in range(5):
        drawn = everything_again(seed, lines, ends)
        ratios = [
            q / (t * (1 - ends * (1 - ends) * q))
            for t, q in zip(drawn.minutes, drawn.fails, strict=True)
        ]
        by_rule = sorted(range(lines), key=lambda line, ratios=ratios: -ratios[line])  # type: ignore[misc]

        assert minutes_of(drawn) == pytest.approx(
            expected_minutes(*drawn.figures, by_rule), rel=EXACT
        )
        assert computed(drawn) == tuple(by_rule)


@pytest.mark.parametrize("lines", [13, 28])
def test_chains_are_cut_into_their_best_beginnings(lines: int) -> None:
    """Sidney 1975: again and again the beginning of a chain with the highest sum of q over sum of t."""
    for seed in range(8):
        drawn = everything_again(seed, lines, 0.0)
        chance = random.Random(seed)
        cut = chains(chance.sample(range(lines), lines), chance)
        chained = Checklist(
            *drawn.figures, [pair for chain in cut for pair in pairwise(chain)]
        )

        assert minutes_of(chained) == pytest.approx(
            expected_minutes(*chained.figures, _by_sidney(chained, cut)), rel=EXACT
        )


def _by_sidney(checklist: Checklist, cut: list[list[int]]) -> list[int]:
    left, found = [list(chain) for chain in cut], []
    while any(left):
        beginnings = [
            chain[:length] for chain in left for length in range(1, len(chain) + 1)
        ]
        best = max(
            beginnings,
            key=lambda some: (
                sum(checklist.fails[i] for i in some)
                / sum(checklist.minutes[i] for i in some)
            ),
        )
        found += best
        left = [
            chain[len(best) :] if chain[: len(best)] == best else chain
            for chain in left
        ]
    return found


@pytest.mark.parametrize("ends", [0.0, 0.4, 1.0])
@pytest.mark.parametrize("pairs", ["chains", "tree"])
def test_chains_and_trees_of_lines_are_exact_by_rule_alone(
    ends: float, pairs: str
) -> None:
    """The rule for runs (Sidney 1975 for chains, Horn 1972 for trees) with one g for all, against the optimum."""
    for seed in range(10):
        drawn = everything_again(seed, 12, ends, pairs)
        lines = read(*drawn.figures, drawn.after)

        assert lines.expected(ratio_rule(lines)) == pytest.approx(
            least_minutes(drawn), rel=EXACT
        ), seed


def test_the_rule_for_runs_allows_no_line_before_one_that_it_has_to_follow() -> None:
    for seed in range(80):
        drawn = wild(seed, 14, "any")

        found = ratio_rule(read(*drawn.figures, drawn.after))

        assert sorted(found) == list(range(14))
        assert all(found.index(a) < found.index(b) for a, b in drawn.after)


def test_a_run_that_joined_another_waits_for_all_that_both_waited_for() -> None:
    """Lines 1, 3 and 6 are worth most and join what they follow one after the other; 6 must not join 4 before 5."""
    pairs = [(0, 1), (2, 1), (2, 3), (4, 3), (0, 5), (5, 6), (4, 6)]
    fails = [0.01, 0.9, 0.01, 0.8, 0.01, 0.01, 0.7]

    found = ratio_rule(
        read([100, 1, 100, 1, 100, 100, 1], fails, [0] * 7, [[1] * 7] * 7, pairs)
    )

    assert all(found.index(a) < found.index(b) for a, b in pairs)
