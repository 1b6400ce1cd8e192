"""The game tree of a small pile, held against trying everything."""

from __future__ import annotations

import math

import pytest
from helpers.long import LONG
from helpers.optima import plain_optimum
from helpers.piles import doubted, shown, three_machines, with_doubts

from kb.machines.pile import Pile, PileStep, Remedy, Waiting
from kb.machines.pile.endgame import solved


def _worth_of(pile: Pile, step: PileStep) -> float:
    return math.fsum(
        chance * (works + plain_optimum(then))
        for chance, works, then in shown(pile, step)
    )


def test_the_endgame_is_the_optimum_of_trying_everything() -> None:
    for seed in range(40 if LONG else 8):
        pile = with_doubts(three_machines(seed)) if seed % 2 else three_machines(seed)
        found = solved(pile)

        assert found.expected == pytest.approx(plain_optimum(pile), abs=1e-9), seed
        assert found.step is not None
        assert _worth_of(pile, found.step) == pytest.approx(found.expected, abs=1e-9)


@pytest.mark.parametrize(
    ("minutes", "cents", "expected"),
    [(45, 1400, 0.9), (44, 1400, 0.7), (45, 1300, 0.0)],
)
def test_a_part_that_may_not_be_the_cause_is_worth_what_is_believed_of_it_and_what_can_be_done_after_it(
    minutes: int, cents: int, expected: float
) -> None:
    """By hand: .7 by the fan in 20 minutes, then .3 2/3 by the setting after 15 and 10 more."""
    pile = Pile(
        waiting=(doubted(),), minutes=minutes, cents=cents, prices={"fan": 1400}
    )

    found = solved(pile)

    assert found.expected == pytest.approx(expected)
    assert plain_optimum(pile) == pytest.approx(expected)
    assert (found.step.chance if found.step else None) == (0.7 if expected else None)


def test_time_is_not_ample_before_what_follows_a_repair_in_vain_fits_it_too() -> None:
    """Within 50 minutes a look at the other machine first would leave no time for what follows the fan."""
    causes = (
        Remedy(cause="fan", belief=0.5, minutes=20),
        Remedy(cause="setting", belief=0.4, minutes=10),
    )
    other = Remedy(cause="plug", belief=0.1, minutes=5)
    waits = Waiting(tag="P7-1", look=15, remedies=causes, ready=True)
    pile = Pile(
        waiting=(Waiting(tag="P7-2", look=10, remedies=(other,)), waits), minutes=50
    )

    assert solved(pile).expected == pytest.approx(plain_optimum(pile))
