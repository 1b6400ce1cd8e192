"""Quantiles of the beta and the gamma distribution, for intervals around shares, counts and rates; pure arithmetic."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class Interval:
    """The range that a share or a rate lies in at a stated level (95 % unless told otherwise)."""

    low: float
    high: float


def tail(level: float) -> float:
    """The probability left out on each side of a central interval; ValueError unless 0 < level < 1.

    >>> round(tail(0.95), 6)
    0.025
    """
    if not 0.0 < level < 1.0:
        raise ValueError(
            f"a level of {level} makes no interval; give one between 0 and 1, such as 0.95"
        )
    return (1.0 - level) / 2


def beta_quantile(share: float, a: float, b: float) -> float:
    """The x with P(Beta(a, b) <= x) = share for a and b above 0.

    The upper Clopper-Pearson limit of 0 in 20 (Newcombe 1998, Statistics in Medicine 17, table I, from memory):

    >>> round(beta_quantile(0.975, 1, 20), 4)
    0.1684
    """
    scale = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)

    def density(x: float) -> float:
        return math.exp(
            min(scale + (a - 1) * math.log(x) + (b - 1) * math.log1p(-x), 700.0)
        )

    return _solved(lambda x: beta_below(x, a, b), density, share, a / (a + b), 1.0)


# of a count of ten thousand it costs a millisecond, and most counts stay what they are
@lru_cache(maxsize=1024)
def gamma_quantile(share: float, shape: float) -> float:
    """The x with P(Gamma(shape, 1) <= x) = share: half the chi-square quantile with 2·shape degrees.

    >>> round(2 * gamma_quantile(0.95, 1 / 2), 3)  # chi-square, 1 degree (NIST handbook 1.3.6.7.4, from memory)
    3.841
    """
    top = shape + 1.0
    while gamma_below(top, shape) < share:
        top *= 2

    def density(x: float) -> float:
        return math.exp(min((shape - 1) * math.log(x) - x - math.lgamma(shape), 700.0))

    return _solved(
        lambda x: gamma_below(x, shape), density, share, min(shape, top / 2), top
    )


def _solved(
    below: Callable[[float], float],
    density: Callable[[float], float],
    share: float,
    start: float,
    top: float,
) -> float:
    """The x in 0..top with below(x) = share: Newton's method, held between the bounds found so far."""
    low, high, x = 0.0, top, start
    for _ in range(100):
        gap = below(x) - share
        low, high = (low, x) if gap > 0 else (x, high)
        slope = density(x)
        following = x - gap / slope if slope > 0 else low
        if not low < following < high:
            following = (low + high) / 2
        if abs(following - x) <= 1e-13 * max(x, following):
            return following
        x = following
    return x


def gamma_below(x: float, shape: float) -> float:
    """P(Gamma(shape, 1) <= x): the series of Abramowitz & Stegun 6.5.29, whose terms are all positive.

    >>> round(gamma_below(1.0, 1.0), 6), round(1 - math.exp(-1), 6)
    (0.632121, 0.632121)
    """
    if x <= 0.0:
        return 0.0
    front = shape * math.log(x) - x - math.lgamma(shape + 1.0)
    if front < -600.0:  # so far out on either side that no digit is left of the rest
        return 0.0 if x < shape else 1.0
    total = term = math.exp(front)
    i = 0
    while term > total * 1e-16:
        i += 1
        term *= x / (shape + i)
        total += term
    return min(total, 1.0)


def beta_below(x: float, a: float, b: float) -> float:
    """P(Beta(a, b) <= x): the continued fraction of Abramowitz & Stegun 26.5.8, by Lentz's method.

    >>> round(beta_below(0.5, 2, 3), 6)  # P(at least 2 of 4 tosses show heads) = 11/16
    0.6875
    """
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    # a hair above, so that rounding never turns it round twice
    if x > (a + 1) / (a + b + 2) + 1e-9:
        return 1.0 - beta_below(1.0 - x, b, a)
    front = math.exp(
        math.lgamma(a + b)
        - math.lgamma(a)
        - math.lgamma(b)
        + a * math.log(x)
        + b * math.log1p(-x)
    )
    return front * (_fraction(x, a, b) - 1.0) / a


def _fraction(x: float, a: float, b: float) -> float:
    tiny = 1e-300
    fraction, c, d = 1.0, 1.0, 0.0
    for i in range(1000):
        m = i // 2
        if i == 0:
            step = 1.0
        elif i % 2 == 0:
            step = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        else:
            step = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        d = 1.0 / ((1.0 + step * d) or tiny)
        c = (1.0 + step / c) or tiny
        fraction *= c * d
        if abs(1.0 - c * d) < 1e-12 and i:
            break
    return fraction
