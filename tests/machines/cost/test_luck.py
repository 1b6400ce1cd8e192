"""The luck of whole lots beside that of machines."""

from __future__ import annotations

import pytest

from kb.machines.cost.luck import SPREAD_PRIOR, Tally, spread_weights


def test_lots_are_thought_to_lie_apart_once_they_were_seen_to() -> None:
    alike = spread_weights([{"Tern 13": Tally(12, 8)}] * 6)
    apart = spread_weights([{"Tern 13": Tally(15, 5)}, {"Tern 13": Tally(8, 12)}] * 3)

    assert alike[0] > SPREAD_PRIOR[0] > apart[0]
    assert alike[3] < SPREAD_PRIOR[3] < apart[3]
    assert sum(alike) == pytest.approx(1)


def test_one_lot_or_none_says_nothing_of_how_far_lots_lie_apart() -> None:
    assert spread_weights([]) == pytest.approx(SPREAD_PRIOR)
    assert spread_weights([{"Tern 13": Tally(30, 0)}]) == pytest.approx(SPREAD_PRIOR)
