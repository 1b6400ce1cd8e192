"""The game tree of a small pile, held against trying everything."""

from __future__ import annotations

import math

import pytest
from helpers.long import LONG
from helpers.optima import plain_optimum
from helpers.piles import shown, three_machines

from kb.machines.pile import Pile, PileStep
from kb.machines.pile.endgame import solved


def _worth_of(pile: Pile, step: PileStep) -> float:
    return math.fsum(chance * (works + plain_optimum(then)) for chance, works, then in shown(pile, step))


def test_the_endgame_is_the_optimum_of_trying_everything() -> None:
    for seed in range(40 if LONG else 8):
        pile = three_machines(seed)
        found = solved(pile)

        assert found.expected == pytest.approx(plain_optimum(pile), abs=1e-9), seed
        assert found.step is not None
        assert _worth_of(pile, found.step) == pytest.approx(found.expected, abs=1e-9)
