"""The front of a large pile: it plans and foretells as the whole pile does, and a small pile is its own front."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.piles import drawn

from kb.machines.pile import Pile, foretold, front, outlooks, planned
from kb.machines.pile.front import SMALL


def large(piles: int, minutes: float, known: int = 20) -> Pile:
    """Several simulated piles as one, with so little time and no money; some machines want a part for certain."""
    drawn_ones = [drawn(100, "short of hours", seed).pile for seed in range(piles)]
    machines = [
        replace(machine, tag=f"{number}-{machine.tag}")
        for number, pile in enumerate(drawn_ones)
        for machine in pile.waiting
    ]
    for place, machine in enumerate(machines[::7][:known]):
        wanting = [one for one in machine.remedies if one.part]
        if wanting:
            machines[7 * place] = machine.found(wanting[0])
    return Pile(waiting=tuple(machines), minutes=minutes)


def test_a_pile_of_a_hundred_machines_is_its_own_front() -> None:
    pile = drawn(SMALL, "short of hours", 1).pile

    assert front(pile) is pile


def test_the_front_of_a_large_pile_is_planned_and_foretold_as_the_whole_pile_is() -> (
    None
):
    pile = large(piles=3, minutes=480)
    reached = front(pile)

    assert len(reached.waiting) < len(pile.waiting) / 2
    whole = planned(pile)
    assert planned(reached).expected == pytest.approx(whole.expected, rel=0.005)
    played = foretold(reached, plays=6).working.expected
    assert played == pytest.approx(foretold(pile, plays=6).working.expected, rel=0.05)


def test_the_front_has_the_next_machine_and_the_donor_of_its_part() -> None:
    pile = large(piles=2, minutes=240)
    first = outlooks(pile)[0]
    kept = {machine.tag: machine for machine in front(pile).waiting}

    assert first.turn == "next"
    assert first.step
    assert {first.tag, first.step.donor or first.tag} <= kept.keys()


def test_machines_at_the_front_keep_only_pieces_that_somebody_there_may_want() -> None:
    reached = front(large(piles=2, minutes=240))
    wanted = {pool for machine in reached.waiting for pool in machine.wants}

    held = {piece.part for machine in reached.waiting for piece in machine.pieces}
    assert held
    assert held <= wanted
