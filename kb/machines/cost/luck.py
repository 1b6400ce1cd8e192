"""Luck of lots: how far the machines of one lot come good more or less often than their models let expect."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

#: A model's own machines are held against all models' share as against so many machines more.
PRIOR_MACHINES = 4.0

#: How far lots may lie apart, as a standard deviation of log odds, and what each is worth before any lot was seen: .25
#: lets 60 in 100 be 54 to 66 in two of three lots (our own judgement, no source; held by simulated pallets).
SPREADS, SPREAD_PRIOR = (0.0, 0.25, 0.5, 0.75), (0.5, 0.3, 0.15, 0.05)

#: The luck of a lot in units of its spread, nine equally likely ones.
_LUCKS = tuple(statistics.NormalDist().inv_cdf((place + 0.5) / 9) for place in range(9))


class Tally(NamedTuple):
    """Machines that came good, and those that did not."""

    good: float = 0.0
    bad: float = 0.0

    def less(self, other: Tally) -> Tally:
        """Those left without the others."""
        return Tally(self.good - other.good, self.bad - other.bad)


def pooled(models: Iterable[Tally]) -> Tally:
    """What all models say together of one not seen: a Beta prior, from flat, in which none outweighs the rest.

    A model's share is one draw from all models' shares, however many machines of it were seen, so n machines count
    as 4·n/(n + 4): at most four (Gelman et al., Bayesian Data Analysis, section 5.4 for the like with means, from
    memory).

    >>> pooled([Tally(9, 3), Tally(0, 4)])
    Tally(good=3.25, bad=3.75)
    """
    good = bad = 1.0
    for tally in models:
        counted = PRIOR_MACHINES / (PRIOR_MACHINES + sum(tally))
        good += tally.good * counted
        bad += tally.bad * counted
    return Tally(good, bad)


def shifted(share: float, log_odds: float) -> float:
    """The share whose odds are higher by that many log odds.

    >>> round(shifted(0.6, 0.25), 3), round(shifted(0.6, -0.25), 3), shifted(1.0, -3.0)
    (0.658, 0.539, 1.0)
    """
    raised = share * math.exp(log_odds)
    return raised / (raised + (1.0 - share))


def spread_weights(lots: Sequence[Mapping[str, Tally]]) -> list[float]:
    """How probable each of `SPREADS` is after these lots, each a tally by model; the prior where there are none.

    A lot is foretold from the others: P(its tallies | spread) is the mean over nine lucks of the product of
    p^good · (1 - p)^bad, p the share of each model among the others, shifted by luck · spread.

    Two lots that went alike and two that did not:

    >>> [round(weight, 2) for weight in spread_weights([{"Tern 13": Tally(12, 8)}, {"Tern 13": Tally(12, 8)}])]
    [0.61, 0.29, 0.08, 0.02]
    >>> [round(weight, 2) for weight in spread_weights([{"Tern 13": Tally(14, 6)}, {"Tern 13": Tally(10, 10)}])]
    [0.33, 0.31, 0.27, 0.1]
    """
    every: dict[str, Tally] = {}
    for lot in lots:
        for model, tally in lot.items():
            told = every.get(model, Tally())
            every[model] = Tally(told.good + tally.good, told.bad + tally.bad)
    weights = [math.log(prior) for prior in SPREAD_PRIOR]
    for lot in lots if len(lots) > 1 else ():
        others = {
            model: tally.less(lot.get(model, Tally())) for model, tally in every.items()
        }
        common = pooled(others.values())
        shares = {model: _share(others[model], common) for model in lot}
        for place, spread in enumerate(SPREADS):
            weights[place] += _log_mean(
                [_log_likelihood(lot, shares, spread * luck) for luck in _LUCKS]
            )
    every_log = _log_mean(weights) + math.log(len(weights))
    return [math.exp(weight - every_log) for weight in weights]


def _share(tally: Tally, common: Tally) -> float:
    share = common.good / sum(common)
    return (tally.good + PRIOR_MACHINES * share) / (sum(tally) + PRIOR_MACHINES)


def _log_likelihood(
    lot: Mapping[str, Tally], shares: Mapping[str, float], log_odds: float
) -> float:
    logarithm = 0.0
    for model, tally in lot.items():
        share = shifted(shares[model], log_odds)
        logarithm += tally.good * math.log(share) + tally.bad * math.log1p(-share)
    return logarithm


def _log_mean(logarithms: Sequence[float]) -> float:
    """The logarithm of the mean of numbers told by theirs, however small they are."""
    top = max(logarithms)
    return top + math.log(
        statistics.fmean(math.exp(logarithm - top) for logarithm in logarithms)
    )
