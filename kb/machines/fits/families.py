"""Families of models that take the same part, hidden but told by tries: how likely two models belong together."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Literal

Shown = Literal["worked", "failed", "claimed"]
Try = tuple[str, str, Shown]

#: A try within a family fails all the same, and one across families works all the same (common practice, no source).
MISFIT, LUCK = 0.03, 0.01
#: What a claim counts for: seven to one that both models are one family (common practice, no source).
CLAIM = 7.0
#: Two models of which nothing is known are one family with 1 / (1 + ALPHA).
ALPHA = 3.0
#: First tries of a kind of part that weigh as much as those of all kinds; what is said of claims before any was tried,
#: as a number of tries.
OWN_KIND, CLAIM_TRIES = 5.0, 3.0
#: Partitions followed at most at every model, and the share of the best one below which none is.
BEAM, CRUMB = 400, 1e-6
#: Models looked at, nearest by evidence first. Of 20 models under simulated tries, those beyond the first 12 moved an
#: answer by .004 on the mean.
NEAREST = 12

#: No pair's evidence counts for more than this (natural logarithm of 1e30), so that contradictions stay weighable.
_CERTAIN = 69.0
#: A family is one number: the bits of its named members above, how many it has in the low byte.
_BYTE = 8
_COUNT = (1 << _BYTE) - 1

#: By model and partner: how well their evidence agrees with one family, and with two.
Ties = Mapping[str, Mapping[str, tuple[float, float]]]
Families = tuple[int, ...]


def tied(tries: Iterable[Try], claim: float = CLAIM) -> Ties:
    """What the tries between each two models say for one family and for two, the better of both set to 1.

    A try that worked speaks `1 - MISFIT : LUCK`, one that failed `MISFIT : 1 - LUCK`, a claim `claim : 1`.
    Tries within a model tell nothing of families. ValueError for anything else shown.

    >>> one, two = tied([("Tern 13", "Skua 14", "worked")])["Skua 14"]["Tern 13"]
    >>> one, round(two, 6)
    (1.0, 0.010309)
    """
    spoken = {
        "worked": math.log(1 - MISFIT) - math.log(LUCK),
        "failed": math.log(MISFIT) - math.log(1 - LUCK),
        "claimed": math.log(claim),
    }
    odds: dict[str, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    for giver, receiver, shown in tries:
        if shown not in spoken:
            raise ValueError(
                f"a try shows worked, failed or claimed, not {shown!r}; write one of these three"
            )
        if giver != receiver:
            odds[giver][receiver] += spoken[shown]
            odds[receiver][giver] += spoken[shown]
    return {
        model: {
            partner: (math.exp(min(x, 0.0)), math.exp(-max(x, 0.0)))
            for partner, x in _bounded(partners)
        }
        for model, partners in odds.items()
    }


def _bounded(partners: Mapping[str, float]) -> list[tuple[str, float]]:
    return [
        (partner, max(-_CERTAIN, min(odds, _CERTAIN)))
        for partner, odds in partners.items()
    ]


def linked(ties: Ties, asked: Sequence[str], nearest: int = NEAREST) -> list[str]:
    """The models asked for, then those that evidence links with them, nearest first.

    >>> linked(tied([("a", "b", "worked"), ("c", "b", "failed"), ("x", "y", "worked")]), ["a"])
    ['a', 'b', 'c']
    """
    found = list(dict.fromkeys(asked))
    for model in found:  # grows while it is walked
        found += [
            partner for partner in sorted(ties.get(model, ())) if partner not in found
        ]
    return found[: max(nearest, len(asked))]


def partitions(
    models: Sequence[str],
    ties: Ties,
    alpha: float,
    named: Collection[str] = (),
    beam: int = BEAM,
) -> dict[Families, float]:
    """The ways to part the models into families, each with its weight, likeliest first where the beam had to choose.

    Prior is the Chinese restaurant process (Aldous 1985, from memory): a model joins a family of n with weight n
    and founds one with weight `alpha`; evidence multiplies. Models without evidence still to come lose their
    names, so that ways that differ in nothing that matters any more are one; `named` models keep theirs.
    All named, four models have 15 ways (Bell's number), unnamed as many as the number 4 has partitions:

    >>> len(partitions("abcd", {}, 2.0, named="abcd")), len(partitions("abcd", {}, 2.0))
    (15, 5)
    """
    ways: dict[Families, float] = {(): 1.0}
    bits = {model: 1 << (place + _BYTE) for place, model in enumerate(models)}
    for place, model in enumerate(models):
        present, partners = models[:place], ties.get(model, {})
        ratios = [
            (bits[other], partners[other][0] / partners[other][1])
            for other in present
            if other in partners
        ]
        coming = models[place + 1 :]
        waiting = [
            other
            for other in models[: place + 1]
            if other in named or _awaits(other, ties, coming)
        ]
        kept_names = sum(bits[other] for other in waiting) | _COUNT
        ways = _best(_joined(ways, bits[model] + 1, alpha, ratios, kept_names), beam)
    return ways


def _awaits(model: str, ties: Ties, coming: Sequence[str]) -> bool:
    partners = ties.get(model, {})
    return any(other in partners for other in coming)


def _joined(
    ways: Mapping[Families, float],
    newcomer: int,
    alpha: float,
    ratios: Sequence[tuple[int, float]],
    kept_names: int,
) -> dict[Families, float]:
    """Every way with the newcomer in each of its families, and in one of its own; other names are struck."""
    grown: dict[Families, float] = defaultdict(float)
    factors: dict[int, float] = {}
    top = 0.0
    for families, before in ways.items():
        kept = [family & kept_names for family in families]
        grown[tuple(sorted([*kept, newcomer & kept_names]))] += before * alpha
        top = max(top, before * alpha)
        for place, family in enumerate(families):
            if family not in factors:
                spoken = [ratio for partner, ratio in ratios if family & partner]
                factors[family] = (family & _COUNT) * math.prod(spoken)
            weight = before * factors[family]
            if weight > CRUMB * top:
                top = max(top, weight)
                joined = kept.copy()
                joined[place] = (family + newcomer) & kept_names
                joined.sort()
                grown[tuple(joined)] += weight
    return grown


def _best(grown: Mapping[Families, float], beam: int) -> dict[Families, float]:
    """The ways worth following, the best of them set to 1."""
    top = max(grown.values())
    ways = {
        families: weight / top
        for families, weight in grown.items()
        if weight > CRUMB * top
    }
    if len(ways) <= beam:
        return ways
    return dict(sorted(ways.items(), key=lambda way: (-way[1], way[0]))[:beam])


def same_family(
    ties: Ties,
    giver: str,
    receiver: str,
    *,
    alpha: float = ALPHA,
    beam: int = BEAM,
    nearest: int = NEAREST,
) -> float:
    """The probability that two models are one family, over all partitions of the models that evidence links.

    >>> round(same_family({}, "a", "b"), 9)
    0.25
    """
    models = _in_order(linked(ties, [giver, receiver], nearest), ties)
    ways = partitions(models, ties, alpha, (giver, receiver), beam)
    both = (1 << (models.index(giver) + _BYTE)) | (
        1 << (models.index(receiver) + _BYTE)
    )
    together = []
    for families, weight in ways.items():
        if any(family & both == both for family in families):
            together.append(weight)
    return math.fsum(together) / math.fsum(ways.values())


def _in_order(models: Sequence[str], ties: Ties) -> list[str]:
    """The models in an order that soon closes each one's evidence; the first two stay where they are."""
    ordered, rest = list(models[:2]), list(models[2:])
    while rest:

        def still_open(model: str) -> tuple[int, int, str]:
            coming = [other for other in rest if other != model]
            waiting = sum(
                _awaits(other, ties, coming) for other in [*ordered[2:], model]
            )
            known = sum(other in ties.get(model, {}) for other in ordered)
            return waiting, -known, model

        best = min(rest, key=still_open)
        ordered.append(best)
        rest.remove(best)
    return ordered


class Links:
    """Which models some evidence links by now, however it came out."""

    def __init__(self) -> None:
        self._home: dict[str, frozenset[str]] = {}

    def joins(self, giver: str, receiver: str) -> bool:
        """Link two models; whether nothing linked them before."""
        one, other = (
            self._home.get(model, frozenset([model])) for model in (giver, receiver)
        )
        both = one | other
        self._home |= dict.fromkeys(both, both)
        return one != other


def first_tries(tries: Iterable[Try]) -> tuple[int, int]:
    """How many pairs that nothing linked before were tried, and how many of these first tries worked: (worked, tried).

    First tries of pairs that evidence linked already are left out: they work oftener, and would lend that to pairs of
    which nothing is known. Tries come in the order of time.

    >>> first_tries([("a", "b", "worked"), ("a", "b", "failed"), ("c", "d", "failed"), ("a", "d", "worked")])
    (2, 3)
    """
    links = Links()
    worked = tried = 0
    for giver, receiver, shown in tries:
        is_new = links.joins(giver, receiver)
        if shown != "claimed" and is_new:
            tried += 1
            worked += shown == "worked"
    return worked, tried


def learned_alpha(
    worked: float, tried: float, worked_here: float = 0.0, tried_here: float = 0.0
) -> float:
    """The alpha that first tries of a pair (`first_tries`) tell, over all kinds of part and then over this kind.

    `1 / (1 + alpha) = (worked + 1) / (tried + 3)` over all kinds; this kind's own first tries move it as soon as
    they are of the weight of `OWN_KIND` tries, since batteries go across far more seldom than memory does.

    >>> learned_alpha(0, 0), learned_alpha(4, 17), round(learned_alpha(4, 17, worked_here=5, tried_here=5), 9)
    (2.0, 3.0, 0.6)
    """
    share = (worked + 1) / (tried + 3)
    share_here = (worked_here + OWN_KIND * share) / (tried_here + OWN_KIND)
    return 1 / share_here - 1


def learned_claim(worked: float, tried: float, alpha: float = ALPHA) -> float:
    """What a claim counts for, from claims that were tried later: the odds of those that worked, over those before.

    Before any, a claim is right 7 times in 10, which weighs as three tries.

    >>> round(learned_claim(0, 0), 9), round(learned_claim(9, 10), 2)
    (7.0, 17.53)
    """
    right = (worked + CLAIM_TRIES * 0.7) / (tried + CLAIM_TRIES)
    return alpha * right / (1 - right)
