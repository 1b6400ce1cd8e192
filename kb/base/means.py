"""The mean of some measured values, with what their number leaves open; pure arithmetic."""

from __future__ import annotations

import statistics
from collections.abc import Sequence

from kb.base.quantiles import Interval, beta_quantile, tail


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
    reach = student(1 - tail(level), len(values) - 1) * statistics.stdev(values) / len(values) ** 0.5
    low = mean - reach
    return Interval(max(low, 0.0) if min(values) >= 0 else low, mean + reach)
