"""Invented check-out lists, their exact optimum by an independent way, and machines played through an order."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from kb.machines.checkout.sequence import expected_minutes, order

Pair = tuple[int, int]


@dataclass(frozen=True)
class Checklist:
    """One drawn list: minutes, P(fails), P(ends it | fails), minutes made necessary again, pairs (before, behind)."""

    minutes: list[float]
    fails: list[float]
    ends: list[float]
    redo: list[list[float]]
    after: list[Pair]

    @property
    def figures(
        self,
    ) -> tuple[list[float], list[float], list[float], list[list[float]]]:
        """The first four arguments of `order` and `expected_minutes`."""
        return self.minutes, self.fails, self.ends, self.redo


def workshop(seed: int, lines: int, pairs: str = "none") -> Checklist:
    """A list as a shop writes it: repairs disturb what they reach, one line is installing, the last is closing up."""
    chance = random.Random(f"workshop {seed} {lines}")
    numbers = range(lines)
    minutes = [
        round(
            chance.choice([0.5, 1, 1, 2, 2, 3, 4, 6, 10, 15, 25])
            * chance.uniform(0.7, 1.3),
            1,
        )
        for _ in numbers
    ]
    fails = [
        min(
            0.6,
            chance.choice([0.015, 0.05, 0.05, 0.12]) * chance.lognormvariate(0, 0.6),
        )
        for _ in numbers
    ]
    ends = [chance.choice([0, 0, 0, 0.05, 0.1, 0.3, 0.6]) for _ in numbers]
    depths = [chance.choice([0, 0, 1, 1, 2, 2, 3]) for _ in numbers]
    moved = [chance.choice([1, 1, 2, 2, 3, 3, 4]) for _ in numbers]
    redo = [
        [minutes[j] if depths[i] >= moved[j] else 0.0 for j in numbers] for i in numbers
    ]
    for step, took, lost in (
        (lines // 2, 30.0, chance.uniform(0.1, 0.6)),
        (lines - 1, 5.0, 1.0),
    ):
        minutes[step], fails[step] = took, 0.0
        for i in numbers:
            redo[i][step] = took * lost if depths[i] else 0.0
    return Checklist(minutes, fails, ends, redo, _pairs(chance, lines, pairs))


def wild(seed: int, lines: int, pairs: str = "none") -> Checklist:
    """A list of any figures at all: whatever can fail, end or disturb, much or not at all."""
    chance = random.Random(f"wild {seed} {lines}")
    numbers = range(lines)
    density = chance.random()
    return Checklist(
        [chance.expovariate(0.2) for _ in numbers],
        [chance.random() ** chance.choice([1, 3]) for _ in numbers],
        [chance.choice([0.0, 1.0, chance.random(), chance.random()]) for _ in numbers],
        [
            [
                chance.expovariate(0.1) if chance.random() < density else 0.0
                for _ in numbers
            ]
            for _ in numbers
        ],
        _pairs(chance, lines, pairs),
    )


def everything_again(
    seed: int, lines: int, ends: float, pairs: str = "none"
) -> Checklist:
    """A list of which every repair disturbs everything, one g for all lines: the cases with a proven rule."""
    chance = random.Random(f"everything {seed} {lines}")
    minutes = [chance.uniform(0.5, 25) for _ in range(lines)]
    fails = [chance.uniform(0.01, 0.6) for _ in range(lines)]
    return Checklist(
        minutes, fails, [ends] * lines, [minutes] * lines, _pairs(chance, lines, pairs)
    )


def _pairs(chance: random.Random, lines: int, kind: str) -> list[Pair]:
    """No pairs, chains of up to five lines, a tree, or any pairs that lead in no circle."""
    mixed = chance.sample(range(lines), lines)
    if kind == "none":
        return []
    if kind == "tree":
        return [
            (mixed[chance.randrange(at)], mixed[at])
            for at in range(1, lines)
            if chance.random() < 0.7
        ]
    if kind == "any":
        share = chance.choice([0.05, 0.15, 0.4])
        return [
            (a, b)
            for at, a in enumerate(mixed)
            for b in mixed[at + 1 :]
            if chance.random() < share
        ]
    assert kind == "chains"
    return [pair for chain in chains(mixed, chance) for pair in pairwise(chain)]


def chains(mixed: Sequence[int], chance: random.Random) -> list[list[int]]:
    """The lines cut into pieces of one to five."""
    cut: list[list[int]] = []
    rest = list(mixed)
    while rest:
        length = chance.randint(1, 5)
        cut.append(rest[:length])
        rest = rest[length:]
    return cut


def least_minutes(checklist: Checklist) -> float:
    """The exact least expected minutes: all sets of one size at once, from the full set down."""
    lines = len(checklist.minutes)
    t, q, g = (
        np.array(values, float)
        for values in (checklist.minutes, checklist.fails, checklist.ends)
    )
    redo = np.array(checklist.redo, float)
    sets = np.arange(1 << lines)
    held = (sets[:, None] >> np.arange(lines)) & 1
    costs = t + q * (1 - g) * (held @ redo.T - held * np.diag(redo))
    before = np.zeros(lines, int)
    for earlier, later in checklist.after:
        before[later] |= 1 << earlier
    sizes = held.sum(axis=1)
    least = np.full(1 << lines, np.inf)
    least[-1] = 0.0
    for size in range(lines - 1, -1, -1):
        some = sets[sizes == size]
        for line in range(lines):
            open_to = some[
                (some >> line & 1 == 0) & (some & before[line] == before[line])
            ]
            way_on = (
                costs[open_to, line]
                + (1 - q[line] * g[line]) * least[open_to | 1 << line]
            )
            least[open_to] = np.minimum(least[open_to], way_on)
    return float(least[0])


def by_ratio(checklist: Checklist) -> list[int]:
    """The lines by falling P(fails) a minute, as far as their pairs allow: the famous rule."""
    left = sorted(
        range(len(checklist.minutes)),
        key=lambda i: (-checklist.fails[i] / checklist.minutes[i], i),
    )
    order: list[int] = []
    while left:
        behind = {later for earlier, later in checklist.after if earlier in left}
        order.append(next(line for line in left if line not in behind))
        left.remove(order[-1])
    return order


def played(
    checklist: Checklist, order: Sequence[int], machines: int, seed: int
) -> tuple[float, float]:
    """Mean minutes of machines drawn and gone through one by one, and the standard error of that mean."""
    chance = random.Random(seed)
    spent = [_one_machine(checklist, order, chance) for _ in range(machines)]
    return float(np.mean(spent)), float(np.std(spent) / machines**0.5)


def _one_machine(
    checklist: Checklist, order: Sequence[int], chance: random.Random
) -> float:
    spent = 0.0
    for place, line in enumerate(order):
        spent += checklist.minutes[line]
        if chance.random() >= checklist.fails[line]:
            continue
        if chance.random() < checklist.ends[line]:
            break
        spent += sum(checklist.redo[line][done] for done in order[:place])
    return spent


EXACT = 1e-9


def computed(checklist: Checklist, first: Sequence[int] = ()) -> tuple[int, ...]:
    return order(*checklist.figures, first=first, after=checklist.after)


def minutes_of(checklist: Checklist) -> float:
    return expected_minutes(*checklist.figures, computed(checklist))


GOOD: dict[str, Any] = {
    "minutes": [1, 2],
    "fails": [0.1, 0.2],
    "ends": [0, 0],
    "redo": [[0, 1], [1, 0]],
}
