"""What no way through a pile can reach: bounds by an outside solver, with all known beforehand and for static plans."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import LinearConstraint, milp

from helpers.piles import Hidden, true_cause
from kb.machines.pile.waiting import Pile, Waiting


@dataclass
class Programme:
    """A linear programme put together column by column: what each is worth, its limits by name."""

    worth: list[float] = field(default_factory=list)
    rows: dict[str, dict[int, float]] = field(default_factory=lambda: defaultdict(dict))
    limits: dict[str, float] = field(default_factory=dict)

    def column(self, worth: float, **uses: float) -> int:
        """A new column that takes so much of each named row."""
        self.worth.append(worth)
        for row, use in uses.items():
            self.rows[row][len(self.worth) - 1] = use
        return len(self.worth) - 1

    def optimum(self, whole: bool) -> float:
        """The greatest worth, columns between 0 and 1, whole ones or shares."""
        table: NDArray[np.float64] = np.zeros((len(self.rows), len(self.worth)))
        for number, uses in enumerate(self.rows.values()):
            for column, use in uses.items():
                table[number, column] = use
        limits = [self.limits.get(name, 0.0) for name in self.rows]
        kind = np.full(len(self.worth), int(whole))
        limited = LinearConstraint(table, ub=limits)
        found = milp(
            -np.array(self.worth), constraints=limited, integrality=kind, bounds=(0, 1)
        )
        return float(-found.fun)


def all_known(hidden: Hidden) -> float:
    """Working machines if every cause and every bad piece were known before the first look (looks still take time).

    A machine is repaired without a part, with a donor's piece, with a bought one, or cut up.
    """
    pile, programme = (
        hidden.pile,
        Programme(limits={"minutes": hidden.pile.minutes, "cents": hidden.pile.cents}),
    )
    for machine in pile.waiting:
        truth = hidden.truths[machine.tag]
        programme.limits[machine.tag] = 1.0
        cut = programme.column(0.0, **{machine.tag: 1.0})
        for piece in machine.pieces:
            programme.rows[piece.part][cut] = 0.0 if piece.part in truth.bad else -1.0
        cause = true_cause(machine, truth)
        if cause is None:
            continue
        uses = {"minutes": machine.look + cause.minutes, machine.tag: 1.0}
        programme.column(1.0, **uses, **({cause.part: 1.0} if cause.part else {}))
        if cause.part in pile.prices:
            programme.column(1.0, **uses, cents=pile.prices[cause.part])
    return programme.optimum(whole=True)


def static_bound(pile: Pile) -> float:
    """What no static plan can be worth: machines taken in part, and needs met as if good pieces always met them.

    E min(N, S) is at most the smaller mean, so that the best of these plans is worth no less than the best real one.
    """
    programme = Programme(limits={"minutes": pile.minutes, "cents": pile.cents})
    for machine in pile.waiting:
        taken = programme.column(0.0, minutes=machine.look)
        for piece in machine.pieces:
            programme.rows[piece.part][taken] = machine.good(piece)
            programme.limits[piece.part] = programme.limits.get(
                piece.part, 0.0
            ) + machine.good(piece)
        _add_repairs(programme, machine, taken, pile)
    return programme.optimum(whole=False)


def _add_repairs(
    programme: Programme, machine: Waiting, taken: int, pile: Pile
) -> None:
    for number, remedy in enumerate(machine.remedies):
        cause = f"{machine.tag} {number}"
        programme.rows[cause][taken] = -remedy.belief
        uses = {"minutes": remedy.minutes, cause: 1.0}
        programme.column(1.0, **uses, **({remedy.part: 1.0} if remedy.part else {}))
        if remedy.part in pile.prices:
            programme.column(1.0, **uses, cents=pile.prices[remedy.part])


def fluid_bound(pile: Pile) -> float:
    """What no way of playing can expect: limits and pools need to be kept in the mean only, machines may be shared out.

    Every policy keeps to each limit whatever shows, and so in the mean; this programme is the best that does only
    that (the bound of weakly coupled dynamic programmes, Hawkins 2003, from memory).
    """
    programme = Programme(limits={"minutes": pile.minutes, "cents": pile.cents})
    for machine in pile.waiting:
        programme.limits[machine.tag] = 1.0
        looked = programme.column(0.0, minutes=machine.look, **{machine.tag: 1.0})
        _add_giving(programme, machine, machine.tag)
        _add_repairs(programme, machine, looked, pile)
        for number, remedy in enumerate(machine.remedies):
            _add_giving(programme, machine.found(remedy), f"{machine.tag} {number}")
        unlisted = 1 - math.fsum(remedy.belief for remedy in machine.remedies)
        programme.rows[f"{machine.tag} unlisted"][looked] = -unlisted
        _add_giving(programme, machine.found(None), f"{machine.tag} unlisted")
    return programme.optimum(whole=False)


def _add_giving(programme: Programme, machine: Waiting, row: str) -> None:
    """The machine cut up at this point: what is expected to be good goes to its pools."""
    cut = programme.column(0.0, **{row: 1.0})
    for piece in machine.pieces:
        programme.rows[piece.part][cut] = -machine.good(piece)


def knapsack_bound(
    loads: list[tuple[float, float, float]], minutes: float, cents: float
) -> float:
    """The optimum of a knapsack with two limits, loads (worth, minutes, cents) taken in part."""
    programme = Programme(limits={"minutes": minutes, "cents": cents})
    for worth, spent, paid in loads:
        programme.column(worth, minutes=spent, cents=paid)
    return programme.optimum(whole=False) if loads else math.nan
