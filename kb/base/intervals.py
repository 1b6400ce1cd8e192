"""Intervals around shares, rates, demands and means: what a small number of them leaves open; pure arithmetic."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from typing import NamedTuple

from kb.base.quantiles import Interval, beta_below, beta_quantile, gamma_quantile, tail

#: What is known of a rate before anything was counted, as a count (Jeffreys' prior for a Poisson rate: half an event).
NOTHING_KNOWN = 0.5


class Demand(NamedTuple):
    """How many pieces a stretch of days ahead will ask for: the mean, and the fewest and most to reckon with."""

    expected: float
    low: int
    high: int


def whole_percent(share: float) -> tuple[str, int]:
    """A share in whole percent, with the sign `<` or `>` where 0 or 100 would say too much.

    >>> whole_percent(0.384), whole_percent(0.002), whole_percent(0.9991), whole_percent(0.0)
    (('', 38), ('<', 1), ('>', 99), ('', 0))
    """
    if 0 < share < 0.005:
        return "<", 1
    return (">", 99) if 0.995 <= share < 1 else ("", round(share * 100))


def wilson(k: int, n: int, level: float = 0.95) -> Interval:
    """The Wilson score interval for a share: k machines of n, each counted once.

    (k + z²/2 ± z · sqrt(k·(n - k)/n + z²/4)) / (n + z²), z the normal quantile (Wilson 1927; NIST handbook,
    7.2.4.1). Nothing seen (n = 0) leaves everything open. ValueError unless 0 <= k <= n.

    Newcombe 1998 (Statistics in Medicine 17, table I, from memory), 81 in 263; and 4 in 20 from R's `binom`:

    >>> seen = wilson(81, 263)
    >>> round(seen.low, 4), round(seen.high, 4)
    (0.2553, 0.3662)
    >>> seen = wilson(4, 20)
    >>> round(seen.low, 6), round(seen.high, 6)
    (0.080658, 0.416017)
    """
    if not 0 <= k <= n:
        raise ValueError(
            f"{k} of {n} is not a share; count each machine once, so that the first is at most the second"
        )
    import statistics  # a search shows shares and needs none of it

    z = statistics.NormalDist().inv_cdf(1.0 - tail(level))
    if n == 0:
        return Interval(0.0, 1.0)
    centre = k + z * z / 2
    spread = z * (k * (n - k) / n + z * z / 4) ** 0.5
    low, high = (centre - spread) / (n + z * z), (centre + spread) / (n + z * z)
    return Interval(low if k else 0.0, high if k < n else 1.0)


def poisson(count: int, exposure: float = 1.0, level: float = 0.95) -> Interval:
    """The exact interval for a rate: events per unit of exposure (days, machines), `count` seen in `exposure`.

    Half the chi-square quantiles at 2k and 2k + 2 degrees of freedom, which are gamma quantiles of shape k and
    k + 1, divided by the exposure (Garwood 1936, Biometrika 28). ValueError for a count below 0 or no exposure.

    Published values for a count of 25 are 16.18 and 36.90 (GraphPad's statistics FAQ):

    >>> seen = poisson(25)
    >>> round(seen.low, 2), round(seen.high, 2)
    (16.18, 36.9)
    >>> seen = poisson(0)
    >>> round(seen.low, 4), round(seen.high, 4)
    (0.0, 3.6889)
    """
    if count < 0:
        raise ValueError(f"a count of {count} cannot be; give 0 or more")
    if exposure <= 0:
        raise ValueError(
            f"an exposure of {exposure} shows no rate; give the days or machines over which was counted"
        )
    outside = tail(level)
    low = gamma_quantile(outside, count) if count else 0.0
    return Interval(low / exposure, gamma_quantile(1.0 - outside, count + 1) / exposure)


def demand(
    count: int, seen_days: float, ahead_days: float, level: float = 0.95
) -> Demand:
    """How many pieces the days ahead will ask for, after `count` went out in `seen_days`.

    A Poisson count whose daily rate is itself a guess: with Jeffreys' prior the rate is Gamma(count + 1/2, seen), so
    that the number Y asked for is negative binomial (Gelman et al., Bayesian Data Analysis, section 2.6, from memory):
    E Y = (count + 1/2) · ahead/seen and P(Y <= y) = I(seen/(seen + ahead); count + 1/2, y + 1), where I is the
    regularised incomplete beta function. `low` and `high` are the smallest y at which P reaches 2.5 and 97.5 %: a
    stock of `high` runs short in about one stretch of 40, or fewer. ValueError if anything is negative or no day seen.

    Six went out in half a year; the next month asks for (scipy.stats.nbinom(6.5, 180/210) has the same limits):

    >>> demand(6, seen_days=180, ahead_days=30)
    Demand(expected=1.0833333333333333, low=0, high=4)
    """
    if count < 0 or seen_days <= 0 or ahead_days < 0:
        raise ValueError(
            "give a count of 0 or more, some days seen and no negative days ahead"
        )
    outside = tail(level)
    weight = count + NOTHING_KNOWN
    seen_part = seen_days / (seen_days + ahead_days)
    return Demand(
        weight * ahead_days / seen_days,
        _pieces(outside, weight, seen_part),
        _pieces(1.0 - outside, weight, seen_part),
    )


def _pieces(share: float, weight: float, seen_part: float) -> int:
    """The smallest number of pieces that covers `share` of the stretches ahead: doubled up, then halved."""

    def covers(pieces: int) -> bool:
        return beta_below(seen_part, weight, pieces + 1) >= share

    low, high = -1, 0
    while not covers(high):
        low, high = high, 2 * high + 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if covers(middle) else (middle, high)
    return high


def student(share: float, degrees: int) -> float:
    """The quantile of Student's t for a share above one half: t² / (degrees + t²) is Beta(1/2, degrees/2).

    Abramowitz & Stegun 26.7.1 and 26.5.27. NIST handbook, table 1.3.6.7.2, for 97.5 % at 10 and at 2 degrees:

    >>> round(student(0.975, 10), 3), round(student(0.975, 2), 3)
    (2.228, 4.303)
    """
    x = beta_quantile(2 * share - 1, 0.5, degrees / 2)
    return float((degrees * x / (1 - x)) ** 0.5)


def mean_interval(values: Sequence[float], level: float = 0.95) -> Interval | None:
    """The interval for the mean that values were drawn from, not below 0 where none of them is; None for under two.

    Mean ± t · s / sqrt(n), t Student's quantile with n - 1 degrees (NIST handbook, 1.3.5.2). For 1, 2, 3 that is
    2 ± 4.303 · 1 / 1.732:

    >>> mean = mean_interval([11, 12, 13])
    >>> round(mean.low, 3), round(mean.high, 3)
    (9.516, 14.484)
    """
    if len(values) < 2:
        return None
    mean = statistics.fmean(values)
    deviation = math.dist(values, [mean] * len(values)) / (len(values) - 1) ** 0.5
    spread = mean_spread(mean, deviation, len(values), level)
    return Interval(
        max(spread.low, 0.0) if min(values) >= 0 else spread.low, spread.high
    )


def mean_spread(
    mean: float, deviation: float, count: int, level: float = 0.95
) -> Interval:
    """The same out of the mean, the standard deviation and the count of values, 2 or more.

    >>> spread = mean_spread(2, 1, 3)
    >>> round(spread.low, 3), round(spread.high, 3)
    (-0.484, 4.484)
    """
    reach = student(1 - tail(level), count - 1) * deviation / count**0.5
    return Interval(mean - reach, mean + reach)
