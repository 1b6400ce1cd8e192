"""Parts tried across models in simulated shops, and the ways to foretell the next try: what the families are held to.

Each kind of part has hidden families of models. Sixteen tries follow one another, pairs of one family oftener than
they would by lot, since people try what looks alike; claims stand beside them. Every rule says how likely the next
try is to work, from what was tried before, and pays for it: minus the logarithm of what it gave to what happened.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from random import Random

from kb.machines.fits.families import (
    ALPHA,
    LUCK,
    MISFIT,
    Try,
    first_tries,
    learned_alpha,
    linked,
    tied,
)
from kb.machines.fits.fitting import chance
from kb.machines.fits.strength import strengths

MODELS, TRIES = 12, 16
#: How often a pair across families is tried once it is drawn, and claims for a kind, made in so many of each sort.
ACROSS, CLAIMS, CLAIMED_SAME, CLAIMED_ACROSS = 0.4, 2, 0.7, 0.1

#: P(the next try works), from the tries before it, the pair and the alpha learned so far.
Rule = Callable[[Sequence[Try], str, str, float], float]


@dataclass(frozen=True, slots=True)
class World:
    """How a shop's kinds of part fall into families: alphas of a restaurant process, or numbers of equal families."""

    alphas: tuple[float, ...] = ()
    families: tuple[int, ...] = ()


WORLDS = {
    "kinds differ": World(alphas=(0.5, 1.0, 3.0, 8.0)),
    "kinds alike": World(alphas=(2.0,)),
    "two to five equal families": World(families=(2, 3, 4, 5)),
}


def kind_of_part(world: World, rng: Random) -> list[Try]:
    """The claims and tries of one kind of part, in their order."""
    models = [f"model {number}" for number in range(MODELS)]
    family = dict(zip(models, _families(world, rng), strict=True))
    told: list[Try] = []
    for _ in range(CLAIMS):
        a, b = rng.sample(models, 2)
        if rng.random() < (CLAIMED_SAME if family[a] == family[b] else CLAIMED_ACROSS):
            told.append((a, b, "claimed"))
    while sum(shown != "claimed" for _, _, shown in told) < TRIES:
        a, b = rng.sample(models, 2)
        same = family[a] == family[b]
        if same or rng.random() < ACROSS:
            works = rng.random() < (1 - MISFIT if same else LUCK)
            told.append((a, b, "worked" if works else "failed"))
    return told


def _families(world: World, rng: Random) -> list[int]:
    if world.families:
        count = rng.choice(world.families)
        return [rng.randrange(count) for _ in range(MODELS)]
    alpha, sizes, drawn = rng.choice(world.alphas), list[float](), list[int]()
    for _ in range(MODELS):
        chosen = rng.choices(range(len(sizes) + 1), [*sizes, alpha])[0]
        sizes += [0.0] * (chosen == len(sizes))
        sizes[chosen] += 1
        drawn.append(chosen)
    return drawn


def by_families(
    before: Sequence[Try], giver: str, receiver: str, alpha: float
) -> float:
    """Ours."""
    return chance(before, giver, receiver, alpha)


def by_families_if_linked(
    before: Sequence[Try], giver: str, receiver: str, alpha: float
) -> float:
    """Ours as it is shown: a pair that no evidence links is told as one of which nothing is known."""
    reached = receiver in linked(tied(before), [giver], MODELS)
    return chance(before if reached else (), giver, receiver, alpha)


def tried_pairs_only(
    before: Sequence[Try], giver: str, receiver: str, alpha: float
) -> float:
    """What was tried on this very pair, nothing else."""
    return chance(
        [done for done in before if {done[0], done[1]} == {giver, receiver}],
        giver,
        receiver,
        alpha,
    )


def joined_is_fits(
    before: Sequence[Try], giver: str, receiver: str, alpha: float
) -> float:
    """What tries that worked join, over however many models, fits 95 times in 100; the pair's own tries come first."""
    if _is_tried(before, giver, receiver):
        return tried_pairs_only(before, giver, receiver, alpha)
    worked = [done for done in before if done[2] == "worked"]
    return (
        0.95
        if receiver in linked(tied(worked), [giver], MODELS)
        else tried_pairs_only((), giver, receiver, alpha)
    )


def chain_product(
    before: Sequence[Try], giver: str, receiver: str, alpha: float
) -> float:
    """The best product of the tried pairs' own chances on a way from giver to receiver."""
    if _is_tried(before, giver, receiver):
        return tried_pairs_only(before, giver, receiver, alpha)
    pairs = {frozenset(done[:2]) for done in before}
    own = {
        pair: tried_pairs_only(before, min(pair), max(pair), alpha) for pair in pairs
    }
    best = {giver: 1.0}
    for _ in range(MODELS):
        for a, b in (sorted(pair) for pair in pairs):
            for here, there in ((a, b), (b, a)):
                reached = best.get(here, 0.0) * own[frozenset((a, b))]
                best[there] = max(best.get(there, 0.0), reached)
    return max(best.get(receiver, 0.0), tried_pairs_only((), giver, receiver, alpha))


def _is_tried(before: Iterable[Try], giver: str, receiver: str) -> bool:
    return any({done[0], done[1]} == {giver, receiver} for done in before)


@dataclass(slots=True)
class Foretold:
    """How well a rule foretold: losses of all tries and of linked, untried pairs; what it said, and what came."""

    losses: list[float] = field(default_factory=list)
    linked: list[float] = field(default_factory=list)
    said: list[tuple[float, bool]] = field(default_factory=list)

    def add(self, said: float, works: bool, is_linked: bool) -> None:
        """One more try foretold."""
        given = min(max(said if works else 1 - said, 0.01), 0.99)
        self.losses.append(-math.log(given))
        self.said.append((said, works))
        if is_linked:
            self.linked.append(self.losses[-1])

    def calibration(
        self, edges: Sequence[float] = (0, 0.1, 0.3, 0.5, 0.6, 0.7, 0.9, 1.01)
    ) -> list[list[float]]:
        """By bin of what was said: how many, the mean said, the share that worked."""
        rows = []
        for low, high in pairwise(edges):
            inside = [(said, works) for said, works in self.said if low <= said < high]
            if inside:
                count = len(inside)
                rows.append(
                    [
                        count,
                        sum(said for said, _ in inside) / count,
                        sum(works for _, works in inside) / count,
                    ]
                )
        return rows


def foretell(
    world: World, rule: Rule, kinds: int, seed: int, learning: str = "both"
) -> Foretold:
    """A rule told to foretell every try of that many kinds of part, in their order.

    `learning` of alpha: from first tries over "all" kinds, over "both" all and this one, "none" of it, or as a "shop"
    does it, which asks for a few tries of both first.
    """
    rng, result = Random(f"tries {seed}"), Foretold()
    worked, tried = 0, 0
    shop: dict[str, Sequence[Try]] = {}
    for number in range(kinds):
        told = kind_of_part(world, rng)
        for place, (giver, receiver, shown) in enumerate(told):
            if shown == "claimed":
                continue
            before = told[:place]
            own = first_tries(before)
            here = own if learning == "both" else (0, 0)
            alpha = (
                ALPHA
                if learning == "none"
                else learned_alpha(worked + own[0], tried + own[1], *here)
            )
            if learning == "shop":
                alpha = strengths({**shop, "this": before})["this"].alpha
            first = not _is_tried(
                [done for done in before if done[2] != "claimed"], giver, receiver
            )
            reached = receiver in linked(tied(before), [giver], MODELS)
            result.add(
                rule(before, giver, receiver, alpha),
                shown == "worked",
                first and reached,
            )
        shop[str(number)] = told
        more = first_tries(told)
        worked, tried = worked + more[0], tried + more[1]
    return result


WORKED: list[Try] = [("a", "b", "worked"), ("b", "a", "worked"), ("b", "c", "worked")]
