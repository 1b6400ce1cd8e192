"""Sums of independent coins: how many of several things, each with its own chance, come true together."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import accumulate


def count_of(coins: Iterable[float], most: int | None = None) -> list[float]:
    """P(exactly j of the coins show heads) for j = 0, 1, ... (the Poisson binomial distribution, by convolution).

    With `most`, the last figure is that of so many or more. ValueError for a chance that is none.

    >>> [round(p, 3) for p in count_of([0.6, 0.3, 0.25])]
    [0.21, 0.475, 0.27, 0.045]
    >>> [round(p, 3) for p in count_of([0.6, 0.3, 0.25], most=2)]
    [0.21, 0.475, 0.315]
    """
    chances = [1.0]
    for coin in coins:
        if not 0.0 <= coin <= 1.0 + 1e-9:
            raise ValueError(f"a chance of {coin} cannot be; give one between 0 and 1")
        tails = [p * (1 - coin) for p in chances] + [0.0]
        heads = [0.0] + [p * coin for p in chances]
        chances = [a + b for a, b in zip(tails, heads, strict=True)]
        if most is not None and len(chances) > most + 1:
            chances[most] += chances.pop()
    return chances


def at_least(chances: Sequence[float]) -> list[float]:
    """P(at least j) for j = 1, 2, ... from P(exactly j) for j = 0, 1, ...

    >>> [round(p, 3) for p in at_least([0.21, 0.475, 0.27, 0.045])]
    [0.79, 0.315, 0.045]
    """
    return list(accumulate(reversed(chances)))[-2::-1]


def matched(needs: Iterable[float], gives: Iterable[float]) -> float:
    """E min(N, S): how many needs are expected to be met, N and S sums of independent coins with these chances.

    The sum over j >= 1 of P(N >= j) P(S >= j). Three machines may want a panel, two may give one:

    >>> round(matched([0.6, 0.3, 0.25], [0.95, 0.8]), 4)
    1.0215

    It is less than the smaller mean, here 1.15: the needs that come true and the parts that are good do not always
    meet.
    """
    wanted, given = at_least(count_of(needs)), at_least(count_of(gives))
    return math.fsum(n * s for n, s in zip(wanted, given, strict=False))
