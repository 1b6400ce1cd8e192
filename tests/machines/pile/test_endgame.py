"""The endgame of a pile, held against trying everything."""

from __future__ import annotations

import math
import statistics
from dataclasses import replace

import pytest
from helpers.piles import (
    LONG,
    expected_of,
    four_machines,
    shown,
    three_machines,
)

from kb.machines.pile import Pile, PileStep, Waiting, next_step
from kb.machines.pile.endgame import is_small, solved
from kb.machines.pile.policy import by_prices


def plain_optimum(pile: Pile) -> float:
    """The adaptive optimum by trying everything, without any shortcut; for two or three machines."""
    return max((_worth_of(pile, step) for step in every_step(pile)), default=0.0)


def _worth_of(pile: Pile, step: PileStep) -> float:
    return math.fsum(chance * (works + plain_optimum(then)) for chance, works, then in shown(pile, step))


def every_step(pile: Pile) -> list[PileStep]:
    """Every step that minutes and cents allow."""
    steps = []
    for machine in pile.waiting:
        if not machine.known:
            steps.append(PileStep(kind="look", tag=machine.tag, minutes=machine.look, chance=0.0))
        elif machine.remedies:
            steps += _repairs(pile, machine)
    return [step for step in steps if step.minutes <= pile.minutes + 1e-9 and step.cents <= pile.cents]


def _repairs(pile: Pile, machine: Waiting) -> list[PileStep]:
    remedy = machine.remedies[0]
    if not remedy.part:
        return [PileStep(kind="repair", tag=machine.tag, minutes=remedy.minutes, chance=1.0)]
    bare = PileStep(kind="fit", tag=machine.tag, minutes=remedy.minutes, chance=0.5, part=remedy.part)
    donors = [one for one in (*pile.waiting, *pile.donors) if one.tag != machine.tag]
    steps = [replace(bare, donor=one.tag) for one in donors for piece in one.pieces if piece.part == remedy.part]
    return [*steps, replace(bare, kind="buy", cents=pile.prices[remedy.part])]


def test_the_endgame_is_the_optimum_of_trying_everything() -> None:
    for seed in range(40 if LONG else 8):
        pile = three_machines(seed)
        found = solved(pile)

        assert found.expected == pytest.approx(plain_optimum(pile), abs=1e-9), seed
        assert found.step is not None
        assert _worth_of(pile, found.step) == pytest.approx(found.expected, abs=1e-9)


def test_small_piles_are_played_as_well_as_can_be() -> None:
    """Bars .97 of the exact adaptive optimum in the mean, .85 at worst, over 200 piles of four machines."""
    ratios, by_prices_alone = [], []
    for seed in range(200 if LONG else 12):
        pile = four_machines(seed)
        best = solved(pile).expected
        if LONG:
            ratios.append(expected_of(next_step, pile) / best)
        by_prices_alone.append(expected_of(by_prices, pile) / best)
    hard = [four_machines(seed) for seed in (20, 42, 89)]  # prices alone reach .67 to .81 of these
    ratios += [expected_of(next_step, pile) / solved(pile).expected for pile in hard]

    assert is_small(four_machines(0))
    assert statistics.fmean(ratios) >= 0.97
    assert min(ratios) >= 0.85
    assert max(ratios) <= 1 + 1e-9
    assert statistics.fmean(by_prices_alone) >= 0.94
