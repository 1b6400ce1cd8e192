"""Pieces sent to machines one by one, held against an outside matching."""

from __future__ import annotations

import math
from random import Random

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from kb.machines.pile.transport import Transport


def test_pieces_handed_out_one_by_one_are_worth_as_much_as_an_outside_matching() -> (
    None
):
    rng = Random(5)
    for _ in range(60):
        goods = {
            giver: [rng.uniform(0.5, 1) for _ in range(rng.randint(0, 3))]
            for giver in "abc"
        }
        fits = {
            (giver, r): rng.uniform(0.5, 1)
            for giver in "abc"
            for r in "xyz"
            if rng.random() < 0.7
        }
        transport = Transport(goods, fits)

        served = [
            receiver
            for receiver in rng.choices("xyz", k=6)
            if transport.serve(receiver)
        ]

        assert sum(transport.sent.values()) == len(served)
        assert transport.worth == pytest.approx(_matched_outside(served, goods, fits))


def _matched_outside(
    served: list[str], goods: dict[str, list[float]], fits: dict[tuple[str, str], float]
) -> float:
    pieces = [(giver, good) for giver, chances in goods.items() for good in chances]
    table = np.array(
        [
            [math.log(fits.get((g, r), 1e-9) * good) for g, good in pieces]
            for r in served
        ]
    )
    rows, columns = linear_sum_assignment(
        table.reshape(len(served), len(pieces)), maximize=True
    )
    return float(table.reshape(len(served), len(pieces))[rows, columns].sum())
