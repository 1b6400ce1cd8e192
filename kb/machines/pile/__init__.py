"""The pile: which machine next, what to expect of it, and what to order; the front of the pile's arithmetic.

`next_step` is asked anew after every record, `outlooks` has a sentence's numbers for every machine, `planned` is the
plan before anything is played, `foretold` how many will work and when, `assembled` what donors can be put together to.
"""

from __future__ import annotations

from kb.machines.pile.assembly import assembled
from kb.machines.pile.coins import matched
from kb.machines.pile.forecast import foretold
from kb.machines.pile.front import front
from kb.machines.pile.handing_out import LoosePiece, Recipe
from kb.machines.pile.outlook import outlooks
from kb.machines.pile.plan import planned
from kb.machines.pile.policy import next_step
from kb.machines.pile.waiting import Piece, Pile, PileStep, Remedy, Waiting, after

__all__ = [
    "LoosePiece",
    "Piece",
    "Pile",
    "PileStep",
    "Recipe",
    "Remedy",
    "Waiting",
    "after",
    "assembled",
    "foretold",
    "front",
    "matched",
    "next_step",
    "outlooks",
    "planned",
]
