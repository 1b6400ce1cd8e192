"""The adaptive optimum of a pile by trying everything."""

from __future__ import annotations

import math
from dataclasses import replace

from helpers.piles import (
    shown,
)
from kb.machines.pile import Pile, PileStep, Waiting


def plain_optimum(pile: Pile) -> float:
    """The adaptive optimum by trying everything, without any shortcut; for two or three machines."""
    return max((_worth_of(pile, step) for step in every_step(pile)), default=0.0)


def _worth_of(pile: Pile, step: PileStep) -> float:
    return math.fsum(
        chance * (works + plain_optimum(then))
        for chance, works, then in shown(pile, step)
    )


def every_step(pile: Pile) -> list[PileStep]:
    """Every step that minutes and cents allow."""
    steps = []
    for machine in pile.waiting:
        if machine.unseen:
            steps.append(
                PileStep(kind="look", tag=machine.tag, minutes=machine.look, chance=0.0)
            )
        elif machine.repair:
            steps += _repairs(pile, machine)
    return [
        step
        for step in steps
        if step.minutes <= pile.minutes + 1e-9 and step.cents <= pile.cents
    ]


def _repairs(pile: Pile, machine: Waiting) -> list[PileStep]:
    remedy = machine.remedies[0]
    if not remedy.part:
        return [
            PileStep(
                kind="repair",
                tag=machine.tag,
                minutes=remedy.minutes,
                chance=remedy.belief,
            )
        ]
    bare = PileStep(
        kind="fit",
        tag=machine.tag,
        minutes=remedy.minutes,
        chance=0.5,
        part=remedy.part,
    )
    donors = [one for one in (*pile.waiting, *pile.donors) if one.tag != machine.tag]
    steps = [
        replace(bare, donor=one.tag)
        for one in donors
        for piece in one.pieces
        if piece.part == remedy.part
    ]
    return [*steps, replace(bare, kind="buy", cents=pile.prices[remedy.part])]
