"""What is known of a waiting machine after a step."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.piles import (
    doubted,
    three_machines,
)

from kb.machines.pile import Piece, Pile, PileStep, Remedy, Waiting, after


def test_a_step_changes_what_is_known_and_what_is_left() -> None:
    pile = three_machines(1)
    look = PileStep(kind="look", tag="P7-0", minutes=5, chance=0)
    known = after(pile, look, replace(pile.waiting[0].remedies[0], part="fan"))

    fitted = after(
        known,
        PileStep(
            kind="fit", tag="P7-0", minutes=9, chance=0.9, part="fan", donor="P7-1"
        ),
        True,
    )
    failed = after(
        known,
        PileStep(
            kind="fit", tag="P7-0", minutes=9, chance=0.9, part="fan", donor="P7-1"
        ),
        False,
    )

    assert known.waiting[0].known
    assert known.minutes == pile.minutes - 5
    assert [one.tag for one in fitted.waiting] == ["P7-2"]
    assert [one.tag for one in failed.waiting] == ["P7-0", "P7-2"]
    assert [piece.part for piece in fitted.donors[0].pieces] == ["pad"]


@pytest.mark.parametrize(
    ("was_good", "belief"),
    [
        pytest.param(True, 0.0, id="a good piece clears the cause that suspects it"),
        pytest.param(
            False, 0.5 / (0.5 + 0.3 * 0.1 + 0.2 * 0.1), id="a bad one points to it"
        ),
    ],
)
def test_a_piece_that_was_tried_tells_of_its_donor(
    was_good: bool, belief: float
) -> None:
    """Bayes' rule by hand: .5 for a cause that suspects the fan, .3 for another, .2 unlisted, fans sound 9 in 10."""
    fan = Remedy(cause="fan stuck", belief=0.5, minutes=20, part="fan")
    other = Remedy(cause="setting", belief=0.3, minutes=5)
    donor = Waiting(
        tag="P7-2",
        look=9,
        remedies=(fan, other),
        pieces=(Piece(part="fan", sound=0.9),),
    )
    needy = Waiting(tag="P7-1", look=0, remedies=(replace(fan, belief=1.0),))
    step = PileStep(
        kind="fit", tag="P7-1", minutes=20, chance=0.45, part="fan", donor="P7-2"
    )

    left = after(Pile(waiting=(needy, donor), minutes=60), step, was_good).donors[0]

    assert left.remedies[0].belief == pytest.approx(belief)
    assert left.pieces == ()


def test_a_repair_in_vain_clears_its_cause_and_sends_the_machine_back_to_be_looked_at() -> (
    None
):
    pile = Pile(waiting=(doubted(),), minutes=60, cents=1400, prices={"fan": 1400})
    bought = PileStep(
        kind="buy", tag="P7-1", minutes=20, chance=0.7, cents=1400, part="fan"
    )

    waits = pile.waiting[0]
    assert (waits.known, waits.unseen, [waits.need(one) for one in waits.remedies]) == (
        False,
        False,
        [1.0, 0.2],
    )
    assert [waits.minutes_until(one) for one in waits.remedies] == [20, 45]
    left = after(pile, bought, None)

    assert (left.minutes, left.cents) == (40, 0)
    assert left.waiting[0].unseen
    assert [(one.cause, round(one.belief, 9)) for one in left.waiting[0].remedies] == [
        ("setting", round(2 / 3, 9))
    ]
    alone = replace(doubted(), remedies=doubted().remedies[:1])
    assert alone.after_in_vain() == Waiting(tag="P7-1", look=0)


def test_a_good_piece_fitted_in_vain_speaks_for_its_donor() -> None:
    fan = Remedy(cause="fan stuck", belief=0.5, minutes=20, part="fan")
    donor = Waiting(tag="P7-2", look=9, remedies=(fan,), pieces=(Piece(part="fan"),))
    step = PileStep(
        kind="fit", tag="P7-1", minutes=20, chance=0.3, part="fan", donor="P7-2"
    )

    left = after(Pile(waiting=(doubted(), donor), minutes=60), step, None)

    assert ([one.tag for one in left.waiting], left.donors[0].remedies[0].belief) == (
        ["P7-1"],
        0.0,
    )
