"""Handing out loose pieces to models: how many complete machines of each there can be, and which are the likeliest."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain, combinations, permutations, product

from kb.machines.fits.families import MISFIT
from kb.machines.pile.transport import Transport

#: A piece is built in if it fits and is good with at least this chance each.
LEAST = 0.5
#: Ways to share the machines out among models that are compared in full, when several make equally many.
COMPARED = 30
#: Points of the search for the greatest number that are looked at before the best found is taken.
_SEARCHED = 20_000
#: Different sets of givers, within one kind of part, of which all unions are looked at.
_UNIONS = 10

#: P(fits) by (kind, giver model, receiver model).
Fits = Mapping[tuple[str, str, str], float]
#: A set of recipes, and how many machines of them together there can be at most.
Limit = tuple[frozenset[int], int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """What a complete machine of a model is made of: kinds of part, one of each."""

    model: str
    parts: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoosePiece:
    """A piece that may be built in: its kind and model, P(good), and where it is (a donor's tag, or the drawer).

    `record` is that with which a piece in the drawer was laid in, empty for one in a donor.
    """

    tag: str
    part: str
    model: str
    good: float
    record: str = ""


class PartsOf:
    """The pieces that are worth building in, by kind and model, and whom they may serve."""

    def __init__(
        self, recipes: Sequence[Recipe], pieces: Sequence[LoosePiece], fits: Fits
    ) -> None:
        self.recipes, self.pieces, self.fits = tuple(recipes), tuple(pieces), fits
        self.kinds = sorted({part for recipe in recipes for part in recipe.parts})
        self._stock: dict[str, dict[str, list[LoosePiece]]] = {
            kind: defaultdict(list) for kind in self.kinds
        }
        for piece in sorted(pieces, key=lambda piece: (-piece.good, piece.tag)):
            if piece.part in self._stock and piece.good >= LEAST:
                self._stock[piece.part][piece.model].append(piece)
        self._groups_of = {kind: self._linked(kind) for kind in self.kinds}
        self._groups = [
            (kind, group)
            for kind, groups in self._groups_of.items()
            for group in groups
        ]
        self._transports: dict[
            tuple[str, tuple[int, ...], tuple[int, ...]], Transport | None
        ] = {}

    def fit(self, part: str, giver: str, receiver: str) -> float:
        """P(a piece of one model fits another); 0 where it is too unlikely to be built in."""
        known = self.fits.get(
            (part, giver, receiver), 1 - MISFIT if giver == receiver else 0.0
        )
        return known if known >= LEAST else 0.0

    def _givers(self, kind: str, number: int) -> frozenset[str]:
        """The models that have a piece of that kind for a recipe."""
        receiver = self.recipes[number].model
        return frozenset(
            giver for giver in self._stock[kind] if self.fit(kind, giver, receiver)
        )

    def _linked(self, kind: str) -> list[tuple[int, ...]]:
        """The recipes that ask for that kind, in groups that share givers."""
        groups: list[tuple[set[int], set[str]]] = []
        asking = [
            number for number, recipe in enumerate(self.recipes) if kind in recipe.parts
        ]
        for number in asking:
            members, givers = {number}, set(self._givers(kind, number))
            linked = [group for group in groups if not group[1].isdisjoint(givers)]
            groups = [group for group in groups if group not in linked]
            for others, their_givers in linked:
                members |= others
                givers |= their_givers
            groups.append((members, givers))
        return [tuple(sorted(members)) for members, _ in groups]

    def limits(self) -> list[Limit]:
        """What bounds the numbers of machines: for sets of recipes that share givers of a kind, the pieces they have.

        Numbers that keep to all of these can be made: by Hall's theorem (1935, from memory) each kind of part then
        has a matching.
        """
        least: dict[frozenset[int], int] = {}
        for kind, group in self._groups:
            for chosen, pieces in self._limits_of(kind, group):
                least[chosen] = min(pieces, least.get(chosen, pieces))
        return sorted(
            least.items(), key=lambda limit: (len(limit[0]), sorted(limit[0]))
        )

    def _limits_of(self, kind: str, group: Sequence[int]) -> Iterator[Limit]:
        givers = {number: self._givers(kind, number) for number in group}
        kinds_of_givers = sorted(set(givers.values()), key=sorted)
        for some in _some_of(kinds_of_givers):
            union = frozenset[str]().union(*some)
            served = frozenset(number for number in group if givers[number] <= union)
            yield served, sum(len(self._stock[kind][giver]) for giver in union)

    def lacks(self, kind: str, model: str, numbers: Sequence[int]) -> bool:
        """Whether one more piece of that kind and model could matter: it would serve where all pieces are used up."""
        for group in self._groups_of.get(kind, ()):
            for chosen, pieces in self._limits_of(kind, group):
                all_used_up = sum(numbers[number] for number in chosen) == pieces
                if all_used_up and any(
                    self.fit(kind, model, self.recipes[number].model)
                    for number in chosen
                ):
                    return True
        return False

    def worth(self, numbers: Sequence[int]) -> float:
        """The logarithm of the chance that all pieces of so many machines serve; minus infinity if they lack."""
        whole = 0.0
        for kind, group in self._groups:
            transport = self._transport(kind, group, numbers)
            whole += transport.worth if transport else -math.inf
        return whole

    def _transport(
        self, kind: str, group: tuple[int, ...], numbers: Sequence[int]
    ) -> Transport | None:
        key = kind, group, tuple(numbers[number] for number in group)
        if key not in self._transports:
            transport = self._empty_transport(kind, group)
            wanted: list[str] = []
            for number in group:
                wanted += [self.recipes[number].model] * numbers[number]
            self._transports[key] = (
                transport if all(map(transport.serve, wanted)) else None
            )
        return self._transports[key]

    def _empty_transport(self, kind: str, group: tuple[int, ...]) -> Transport:
        """The pieces of a kind with the chances that they serve the recipes of a group; none is given yet."""
        goods = {
            giver: [piece.good for piece in pieces]
            for giver, pieces in self._stock[kind].items()
        }
        receivers = [self.recipes[number].model for number in group]
        fits = {
            (giver, one): self.fit(kind, giver, one)
            for giver, one in product(goods, receivers)
        }
        return Transport(goods, fits)

    def handed_out(
        self, numbers: Sequence[int]
    ) -> Iterator[tuple[str, str, str, list[LoosePiece]]]:
        """The pieces for so many machines: kind, giver model, receiver model, and the pieces that go that way."""
        for kind, group in self._groups:
            transport = self._transport(kind, group, numbers)
            sent = transport.sent if transport else {}
            taken = defaultdict[str, int](int)
            for (giver, receiver), count in sorted(sent.items()):
                first = taken[giver]
                taken[giver] += count
                yield (
                    kind,
                    giver,
                    receiver,
                    self._stock[kind][giver][first : first + count],
                )


def _some_of(
    kinds_of_givers: Sequence[frozenset[str]],
) -> Iterator[tuple[frozenset[str], ...]]:
    """All choices of them, the small ones first; of very many those of one, of two and of all."""
    count = len(kinds_of_givers)
    sizes = [*range(1, count + 1)] if count <= _UNIONS else [1, 2, count]
    return chain.from_iterable(combinations(kinds_of_givers, size) for size in sizes)


def most(
    limits: Sequence[Limit], recipes: int, keep: int = COMPARED
) -> tuple[int, list[tuple[int, ...]]]:
    """The greatest number of machines within the limits, and ways to share it out among the recipes.

    All ways if there are no more than `keep`, else that many and one. A recipe that nothing limits gets none.

    >>> most([(frozenset([0]), 2), (frozenset([1]), 2), (frozenset([0, 1]), 3)], recipes=2)
    (3, [(2, 1), (1, 2)])
    """
    best, ways, searched = 0, [(0,) * recipes], 0
    waiting: list[tuple[tuple[int, ...], tuple[int, ...]]] = [
        ((), tuple(limit for _, limit in limits))
    ]
    while waiting and searched < _SEARCHED:
        searched += 1
        numbers, left = waiting.pop()
        hopes = [_hope(limits, left, number) for number in range(len(numbers), recipes)]
        total = sum(numbers) + _together(limits, left, hopes, len(numbers))
        needs_more_ways = best > 0 and len(ways) <= keep
        if total < best or (total == best and not needs_more_ways):
            continue
        if hopes:  # the greatest number comes off the stack first
            waiting += [
                ((*numbers, n), _left(limits, left, len(numbers), n))
                for n in range(hopes[0] + 1)
            ]
        else:
            ways = [*ways, numbers] if total == best else [numbers]
            best = total
    return best, ways


def _left(
    limits: Sequence[Limit], left: Sequence[int], recipe: int, number: int
) -> tuple[int, ...]:
    """What is left of every limit once so many machines of a recipe are made."""
    return tuple(
        have - number * (recipe in chosen)
        for (chosen, _), have in zip(limits, left, strict=True)
    )


def _hope(limits: Sequence[Limit], left: Sequence[int], number: int) -> int:
    """The most machines of one recipe that the limits leave; none for a recipe that nothing limits."""
    return min(
        (
            have
            for (chosen, _), have in zip(limits, left, strict=True)
            if number in chosen
        ),
        default=0,
    )


def _together(
    limits: Sequence[Limit], left: Sequence[int], hopes: Sequence[int], first: int
) -> int:
    """The most machines of the recipes from `first` on, by the one limit that leaves fewest."""
    whole = sum(hopes)
    bounds = [whole]
    for (chosen, _), have in zip(limits, left, strict=True):
        bounds.append(
            have
            + whole
            - sum(hope for number, hope in enumerate(hopes, first) if number in chosen)
        )
    return min(bounds)


def likeliest(parts_of: PartsOf) -> tuple[int, ...]:
    """How many machines of each recipe to make: most in all, of these the likeliest.

    Where there are more ways than are compared, one machine after another is changed for one of another model as long
    as that is likelier.
    """
    limits = parts_of.limits()
    _, ways = most(limits, len(parts_of.recipes))
    best = max(ways, key=parts_of.worth)
    if len(ways) <= COMPARED:
        return best
    while True:
        better = max(_exchanged(best), key=parts_of.worth, default=best)
        if parts_of.worth(better) <= parts_of.worth(best) + 1e-12:
            return best
        best = better


def _exchanged(numbers: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Every way with one machine less of one recipe and one more of another."""
    for less, more in permutations(range(len(numbers)), 2):
        if numbers[less]:
            changed = list(numbers)
            changed[less] -= 1
            changed[more] += 1
            yield tuple(changed)
