"""The division of a pile into givers and receivers, held against the best of all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from random import Random

import numpy as np
import pytest
from helpers.long import LONG
from helpers.piles import Hidden, doubted, drawn, needy, true_cause
from scipy.optimize import linear_sum_assignment

from kb.machines.pile import Piece, Pile, Remedy, Waiting, division
from kb.machines.pile.division import divided


def looked_at(hidden: Hidden, machines: int) -> Pile:
    """The first machines of a pile, each with its true cause known."""
    some = hidden.pile.waiting[:machines]
    known = tuple(
        machine.found(true_cause(machine, hidden.truths[machine.tag]))
        for machine in some
    )
    return replace(hidden.pile, waiting=known)


def best_of_all_givers(pile: Pile) -> float:
    """Expected working machines of the best set of givers, minutes aside: pieces handed out by an outside matching."""
    best = 0.0
    for size in range(len(pile.waiting) + 1):
        for givers in combinations(pile.waiting, size):
            receivers = [
                one for one in pile.waiting if one not in givers and one.remedies
            ]
            best = max(best, _served(receivers, givers, pile))
    return best


def _served(
    receivers: Sequence[Waiting], givers: Sequence[Waiting], pile: Pile
) -> float:
    needs = [one.remedies[0].part for one in receivers if one.remedies[0].part]
    pieces = [
        (piece.part, giver.good(piece)) for giver in givers for piece in giver.pieces
    ]
    table = [
        [good if part == need and good > 0.05 else 0.0 for part, good in pieces]
        for need in needs
    ]
    worth = np.array(table).reshape(len(needs), len(pieces))
    rows, columns = linear_sum_assignment(worth, maximize=True)
    met = set(rows[worth[rows, columns] > 0])
    left = [need for number, need in enumerate(needs) if number not in met]
    return (
        len(receivers)
        - len(needs)
        + float(worth[rows, columns].sum())
        + len(_bought(left, pile))
    )


def _bought(needs: Sequence[str], pile: Pile) -> list[int]:
    cents, bought = pile.cents, list[int]()
    for price in sorted(pile.prices[need] for need in needs):
        if price <= cents:
            cents -= price
            bought.append(price)
    return bought


@pytest.mark.parametrize("cents", [0, 2500])
def test_givers_and_receivers_are_those_of_the_best_of_all_divisions(
    cents: int,
) -> None:
    lost = 0.0
    for seed in range(60 if LONG else 12):
        pile = replace(
            looked_at(drawn(12, "short of money", seed), 9), cents=cents, minutes=5000
        )

        lost += best_of_all_givers(pile) - divided(pile).expected

    assert lost == pytest.approx(0.0, abs=0.01)


def tangled(seed: int) -> Pile:
    """Eight known machines with few pools, doubtful pieces and little money, so that givers get in each other's way."""
    rng, pools = Random(seed), ["fan", "pad", "jack", "radio"]
    machines = []
    for number in range(8):
        part = "" if rng.random() < 0.3 else rng.choice(pools)
        remedy = Remedy(cause="one", belief=1.0, minutes=rng.randint(5, 30), part=part)
        pieces = tuple(
            Piece(part=pool, sound=rng.choice([0.95, 0.9, 0.6]))
            for pool in pools
            if rng.random() < 0.5
        )
        machines.append(
            Waiting(tag=f"P7-{number}", look=0, remedies=(remedy,), pieces=pieces)
        )
    prices = {pool: rng.choice([800, 1500, 2500]) for pool in pools}
    return Pile(
        waiting=tuple(machines),
        minutes=5000,
        cents=rng.choice([0, 1000, 3000]),
        prices=prices,
    )


def test_tangled_givers_are_the_best_too() -> None:
    for seed in range(200 if LONG else 40):
        assert divided(tangled(seed)).expected == pytest.approx(
            best_of_all_givers(tangled(seed))
        ), seed


def test_from_one_beginning_alone_givers_are_still_dropped_and_swapped(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Piles in which adding givers alone ends below the best."""
    monkeypatch.setattr("kb.machines.pile.division._FEW", 0)

    lost = [
        best_of_all_givers(tangled(seed)) - divided(tangled(seed)).expected
        for seed in (61, 66, 168, 175, 207)
    ]

    assert lost == pytest.approx([0.0] * 5)


def test_a_division_keeps_to_its_limits_and_uses_every_piece_once() -> None:
    for seed in range(20):
        pile = looked_at(drawn(32, "short of hours", seed), 32)

        found = divided(replace(pile, minutes=400))

        assert sum(task.minutes for task in found.tasks) <= 400
        assert sum(task.cents for task in found.tasks) <= pile.cents
        pieces = [(task.donor, task.part) for task in found.tasks if task.donor]
        assert len(pieces) == len(set(pieces))
        assert not {task.tag for task in found.tasks} & found.givers


def test_the_best_piece_goes_to_the_machine_that_it_mends_most_surely() -> None:
    good, fair = (Piece(part="fan", sound=sound) for sound in (0.9, 0.6))
    donors = (
        Waiting(tag="P7-8", look=0, pieces=(good,)),
        Waiting(tag="P7-9", look=0, pieces=(fair,)),
    )

    found = divided(
        Pile(waiting=(doubted(), needy("P7-2", "fan")), donors=donors, minutes=60)
    )

    tasks = {task.tag: task for task in found.tasks}
    assert [tasks[tag].donor for tag in ("P7-1", "P7-2")] == ["P7-9", "P7-8"]
    assert [tasks[tag].chance for tag in ("P7-1", "P7-2")] == pytest.approx([0.42, 0.9])


def test_of_givers_that_give_the_same_one_is_tried_and_the_division_stays_the_best(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fan = Remedy(cause="fan stuck", belief=1.0, minutes=20, part="fan")
    wanting = [Waiting(tag=f"W{number}", look=0, remedies=(fan,)) for number in (1, 2)]
    piece = Piece(part="fan", sound=0.9)
    doubted_ones = [
        Waiting(tag=f"D{number:02}", look=20, pieces=(piece,)) for number in range(30)
    ]
    better = Waiting(tag="E1", look=20, pieces=(Piece(part="fan", sound=0.95),))
    pile = Pile(waiting=(*wanting, *doubted_ones, better), minutes=30)
    tried: list[frozenset[str]] = []
    value = division._Giving._value

    def counted(giving: division._Giving, givers: frozenset[str]) -> division.Division:
        tried.append(givers)
        return value(giving, givers)

    monkeypatch.setattr(division._Giving, "_value", counted)
    found = divided(pile)

    assert found.givers == {"E1"}
    assert found.expected == pytest.approx(0.95)
    assert len(tried) < 10
