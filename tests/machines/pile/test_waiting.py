"""What is known of a waiting machine after a step."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.piles import (
    three_machines,
)

from kb.machines.pile import Piece, Pile, PileStep, Remedy, Waiting, after


def test_a_step_changes_what_is_known_and_what_is_left() -> None:
    pile = three_machines(1)
    look = PileStep(kind="look", tag="P7-0", minutes=5, chance=0)
    known = after(pile, look, replace(pile.waiting[0].remedies[0], part="fan"))

    fitted = after(known, PileStep(kind="fit", tag="P7-0", minutes=9, chance=0.9, part="fan", donor="P7-1"), True)
    failed = after(known, PileStep(kind="fit", tag="P7-0", minutes=9, chance=0.9, part="fan", donor="P7-1"), False)

    assert known.waiting[0].known
    assert known.minutes == pile.minutes - 5
    assert [one.tag for one in fitted.waiting] == ["P7-2"]
    assert [one.tag for one in failed.waiting] == ["P7-0", "P7-2"]
    assert [piece.part for piece in fitted.donors[0].pieces] == ["pad"]


@pytest.mark.parametrize(
    ("was_good", "belief"),
    [
        pytest.param(True, 0.0, id="a good piece clears the cause that suspects it"),
        pytest.param(False, 0.5 / (0.5 + 0.3 * 0.1 + 0.2 * 0.1), id="a bad one points to it"),
    ],
)
def test_a_piece_that_was_tried_tells_of_its_donor(was_good: bool, belief: float) -> None:
    """Bayes' rule by hand: .5 for a cause that suspects the fan, .3 for another, .2 unlisted, fans sound 9 in 10."""
    fan = Remedy(cause="fan stuck", belief=0.5, minutes=20, part="fan")
    other = Remedy(cause="setting", belief=0.3, minutes=5)
    donor = Waiting(tag="P7-2", look=9, remedies=(fan, other), pieces=(Piece(part="fan", sound=0.9),))
    needy = Waiting(tag="P7-1", look=0, remedies=(replace(fan, belief=1.0),))
    step = PileStep(kind="fit", tag="P7-1", minutes=20, chance=0.45, part="fan", donor="P7-2")

    left = after(Pile(waiting=(needy, donor), minutes=60), step, was_good).donors[0]

    assert left.remedies[0].belief == pytest.approx(belief)
    assert left.pieces == ()
