"""Assembly of complete machines out of several: what can be put together from donors and a drawer, and what lacks."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from kb.machines.pile.handing_out import (
    Fits,
    LoosePiece,
    PartsOf,
    Recipe,
    likeliest,
    most,
)

#: Where a piece is that would have to be bought first.
BOUGHT = "bought"


@dataclass(frozen=True, slots=True, kw_only=True)
class BuiltPiece:
    """A piece in a machine put together, and the chance that it fits and is good."""

    piece: LoosePiece
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Built:
    """A complete machine that can be put together: its model, its pieces by kind, the chance that all of them serve."""

    model: str
    pieces: tuple[BuiltPiece, ...]

    @property
    def chance(self) -> float:
        """P(every piece fits and is good), each independent of the others."""
        return math.prod(piece.chance for piece in self.pieces)

    def holds(self, piece: LoosePiece) -> bool:
        """Whether that very piece goes into it."""
        return any(one.piece is piece for one in self.pieces)

    @property
    def tags(self) -> tuple[str, ...]:
        """The donors it comes from, each once."""
        return tuple(sorted({piece.piece.tag for piece in self.pieces}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Addition:
    """A part that, once bought, makes one complete machine more: what it costs, and the machine it goes into."""

    part: str
    model: str
    cents: int
    machine: Built


@dataclass(frozen=True, slots=True, kw_only=True)
class Assembly:
    """All that can be put together tonight, likeliest first, and what one bought part would add, cheapest first."""

    machines: tuple[Built, ...]
    additions: tuple[Addition, ...]

    @property
    def expected(self) -> float:
        """Working machines expected of it."""
        return math.fsum(machine.chance for machine in self.machines)


def assembled(
    recipes: Sequence[Recipe],
    pieces: Sequence[LoosePiece],
    fits: Fits,
    prices: Mapping[tuple[str, str], int] | None = None,
) -> Assembly:
    """The most complete machines that can be put together, of these the likeliest choice of pieces.

    `fits` has P(fits) by (kind, giver model, receiver model); a pair that is not named fits within its model only.
    `prices` are cents by (kind, model). First as many machines as there are pieces for, then the greatest product of
    all P(fits) P(good); a model's best pieces go into one machine, so that not all of them are doubtful. Where very
    many ways of sharing them out among models make equally many (`COMPARED`), those next to the best found are
    compared.

    >>> recipes = [Recipe(model="Skua 14", parts=("board", "panel"))]
    >>> pieces = [
    ...     LoosePiece(tag="A3", part="panel", model="Skua 14", good=0.9),
    ...     LoosePiece(tag="A7", part="board", model="Skua 14", good=0.8),
    ...     LoosePiece(tag="B2", part="panel", model="Fulmar 14", good=1.0),
    ... ]
    >>> fits = {("panel", "Fulmar 14", "Skua 14"): 0.95}
    >>> found = assembled(recipes, pieces, fits, prices={("board", "Skua 14"): 5500})
    >>> [(one.model, one.tags, round(one.chance, 4)) for one in found.machines]
    [('Skua 14', ('A7', 'B2'), 0.7372)]
    >>> [(one.part, one.cents, one.machine.tags) for one in found.additions]
    [('board', 5500, ('B2', 'bought'))]
    """
    parts_of = PartsOf(tuple(recipes), tuple(pieces), fits)
    best = likeliest(parts_of)
    additions = sorted(
        _additions(parts_of, best, prices or {}),
        key=lambda one: (one.cents, -one.machine.chance, one.part, one.model),
    )
    return Assembly(machines=tuple(_built(parts_of, best)), additions=tuple(additions))


def _additions(
    parts_of: PartsOf, best: Sequence[int], prices: Mapping[tuple[str, str], int]
) -> Iterator[Addition]:
    """Every part that makes one machine more if it is bought, with the machine it then goes into."""
    for (part, model), cents in sorted(prices.items()):
        if not parts_of.lacks(part, model, best):
            continue
        bought = LoosePiece(tag=BOUGHT, part=part, model=model, good=1.0)
        with_it = PartsOf(parts_of.recipes, (*parts_of.pieces, bought), parts_of.fits)
        if most(with_it.limits(), len(with_it.recipes), keep=0)[0] > sum(best):
            machines = _built(with_it, likeliest(with_it))
            into = next(
                (machine for machine in machines if machine.holds(bought)), None
            )
            if into:
                yield Addition(part=part, model=model, cents=cents, machine=into)


def _built(parts_of: PartsOf, numbers: Sequence[int]) -> list[Built]:
    """So many machines of each recipe, with their pieces: a model's best pieces together, likeliest machine first."""
    given: dict[tuple[str, str], list[BuiltPiece]] = defaultdict(list)
    for part, giver, receiver, pieces in parts_of.handed_out(numbers):
        chance = parts_of.fit(part, giver, receiver)
        given[part, receiver] += [
            BuiltPiece(piece=piece, chance=chance * piece.good) for piece in pieces
        ]
    machines = []
    for recipe, number in zip(parts_of.recipes, numbers, strict=True):
        rows = [
            sorted(given[part, recipe.model], key=_likeliest_first)
            for part in recipe.parts
        ]
        machines += [
            Built(model=recipe.model, pieces=tuple(row[place] for row in rows))
            for place in range(number)
        ]
    return sorted(
        machines, key=lambda machine: (-machine.chance, machine.model, machine.tags)
    )


def _likeliest_first(piece: BuiltPiece) -> tuple[float, str]:
    return -piece.chance, piece.piece.tag
