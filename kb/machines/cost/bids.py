"""Bids for the next pallet: what it may cost at most, as likely as not and safely, by the machines seen so far.

What a pallet brings is the sum over its machines of their sale where they come good, less minutes and parts on all of
them, less freight. Drawn many times from what is known, with all that is not known in it: how often a model comes good
(Beta-binomial, its prior worth four machines of all models), what a machine costs (Bayesian bootstrap, Rubin 1981,
Annals of Statistics 9, of the model's own machines with all models' as three more), and the luck of the lot.
"""

from __future__ import annotations

import math
import random
import statistics
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from kb.machines.cost.luck import (
    PRIOR_MACHINES,
    SPREADS,
    Tally,
    pooled,
    shifted,
    spread_weights,
)

#: All models' machines weigh as so many of the model's own in what one costs (design, section F).
COST_MACHINES = 3.0

#: How far a machine may cost another sum than any seen before, and a model another than the others do, as standard
#: deviations of logarithms: the few machines seen are never all there is (set by simulated pallets).
UNSEEN_MACHINE, UNSEEN_MODEL = 0.4, 0.25


@dataclass(frozen=True, slots=True)
class SeenMachine:
    """A machine that is done: whether it came good, the minutes and the cents of parts on it, and the lot it was of."""

    model: str
    good: bool
    minutes: float
    parts_cents: int
    lot: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PalletOffer:
    """A pallet on offer: how many of each model, and what a good one of each is sold for; rate and freight beside."""

    counts: Mapping[str, int]
    sale_cents: Mapping[str, int]
    hourly_cents: int
    freight_cents: int = 0

    def __post_init__(self) -> None:
        if not sum(self.counts.values()):
            raise ValueError(
                "the offer names no machine; give a model and how many of it"
            )
        for model, count in self.counts.items():
            if count < 0:
                raise ValueError(
                    f"{count} machines of {model} cannot be offered; give 0 or more"
                )
            if model not in self.sale_cents:
                raise ValueError(
                    f"no sale price is given for {model}; say what a working one is sold for"
                )


@dataclass(frozen=True, slots=True)
class Bid:
    """What the pallet may cost so that nothing is lost, in cents: as likely as not, and so that it holds 8 in 10.

    The middle eight tenths of what it may bring lie between `low` and `high`. Below 0 it is not worth its freight.
    `unseen` are the models on offer of which none was done here: they are reckoned like all others together.
    """

    median: int
    holds: int
    low: int
    high: int
    unseen: tuple[str, ...] = field(default=(), kw_only=True)


@dataclass(frozen=True, slots=True)
class GoodAmong:
    """How many of some machines come good: the mean, and the numbers that 10, 50 and 90 % of cases do not exceed."""

    mean: float
    low: int
    median: int
    high: int


def good_among(
    offered: int, good: float, bad: float, prior: tuple[float, float] = (1.0, 1.0)
) -> GoodAmong:
    """How many of `offered` machines come good after so many good and bad ones: the beta-binomial distribution.

    P(k) = C(n, k) · B(k + a, n - k + b) / B(a, b) with a and b the counts and their prior (Gelman et al., Bayesian
    Data Analysis, section 2.4, from memory). Twelve offered after 17 of 25 came good (scipy.stats.betabinom):

    >>> good_among(12, good=17, bad=8)
    GoodAmong(mean=8.0, low=5, median=8, high=10)
    """
    a, b = good + prior[0], bad + prior[1]
    if offered < 0 or min(good, bad) < 0 or min(a, b) <= 0:
        raise ValueError("give counts of 0 or more and a prior above 0")
    chances = [_beta_binomial(k, offered, a, b) for k in range(offered + 1)]
    return GoodAmong(
        offered * a / (a + b), *(_reached(chances, share) for share in (0.1, 0.5, 0.9))
    )


def _beta_binomial(k: int, n: int, a: float, b: float) -> float:
    ways = math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
    return math.exp(ways + _log_beta(k + a, n - k + b) - _log_beta(a, b))


def _log_beta(a: float, b: float) -> float:
    return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)


def _reached(chances: Sequence[float], share: float) -> int:
    """The smallest number at which the chances up to it reach the share, rounding errors aside."""
    total = 0.0
    for number, chance in enumerate(chances):
        total += chance
        if total >= share - 1e-12:
            return number
    return len(chances) - 1


def bid(
    offer: PalletOffer, seen: Iterable[SeenMachine], seed: int, draws: int = 1_000
) -> Bid:
    """What the offer is worth after the machines seen; the same seed gives the same bid.

    ValueError where no machine was seen: then nothing is known of what one costs.

    >>> seen = [SeenMachine("Tern 13", good, minutes, 900) for good, minutes in zip([1, 1, 0, 1] * 5, range(20, 40))]
    >>> offer = PalletOffer(counts={"Tern 13": 12}, sale_cents={"Tern 13": 9000}, hourly_cents=3600)
    >>> worth = bid(offer, seen, seed=1)
    >>> worth.low < worth.holds < worth.median < worth.high
    True
    """
    machines = list(seen)
    known = _Known(offer, machines)
    done = {one.model for one in machines}
    chance = random.Random(seed)
    tenths = statistics.quantiles((known.drawn(chance) for _ in range(draws)), n=10)
    median, holds, low, high = (round(tenths[at]) for at in (4, 1, 0, 8))
    unseen = tuple(model for model in offer.counts if model not in done)
    return Bid(median, holds, low, high, unseen=unseen)


class _Known:
    """What the machines seen tell of an offer, ready to be drawn from."""

    def __init__(self, offer: PalletOffer, seen: Iterable[SeenMachine]) -> None:
        machines = list(seen)
        if not machines:
            raise ValueError(
                "no machine was seen yet; bid once some of any lot are done"
            )
        self._offer = offer
        self._models = sorted(offer.counts)
        self._tallies = _tallies(machines)
        self._pooled = pooled(self._tallies.values())
        by_lot: dict[str, list[SeenMachine]] = defaultdict(list)
        by_model: dict[str, list[SeenMachine]] = defaultdict(list)
        for machine in machines:
            by_lot[machine.lot].append(machine)
            by_model[machine.model].append(machine)
        lots = [_tallies(of_lot) for lot, of_lot in by_lot.items() if lot]
        self._spreads = spread_weights(lots)
        #: The lots seen had luck too, so that what they say of the next one is uncertain once more.
        self._luck = math.sqrt(1.0 + 1.0 / len(by_lot))
        costs = self._costs(machines)
        self._all_costs = {
            good: costs[good] or costs[not good] for good in (True, False)
        }
        self._own_costs = {
            model: self._costs(by_model[model]) for model in self._models
        }

    def _costs(self, machines: Iterable[SeenMachine]) -> dict[bool, list[float]]:
        """What each of the machines that came good, and of those that did not, cost in minutes and parts."""
        rate = self._offer.hourly_cents / 60
        costs: dict[bool, list[float]] = {True: [], False: []}
        for machine in machines:
            costs[machine.good].append(machine.minutes * rate + machine.parts_cents)
        return costs

    def drawn(self, chance: random.Random) -> float:
        """What the pallet brings in one world that may be."""
        share = chance.betavariate(*self._pooled)
        luck = (
            chance.choices(SPREADS, self._spreads)[0]
            * self._luck
            * chance.gauss(0.0, 1.0)
        )
        common = {good: list(costs) for good, costs in self._all_costs.items()}
        cents = -float(self._offer.freight_cents)
        for model in self._models:
            count = self._offer.counts[model]
            good = self._good(model, share, luck, chance)
            works = sum(chance.random() < good for _ in range(count))
            cents += works * self._offer.sale_cents[model]
            own = self._own_costs[model]
            cents -= _drawn_costs(own[True], common[True], works, chance)
            cents -= _drawn_costs(own[False], common[False], count - works, chance)
        return cents

    def _good(
        self, model: str, share: float, luck: float, chance: random.Random
    ) -> float:
        """The share of the model's machines that come good in this lot."""
        tally = self._tallies.get(model, Tally())
        a = tally.good + PRIOR_MACHINES * share
        b = tally.bad + PRIOR_MACHINES * (1.0 - share)
        return shifted(chance.betavariate(max(a, 1e-9), max(b, 1e-9)), luck)


def _tallies(machines: Iterable[SeenMachine]) -> dict[str, Tally]:
    tallies: dict[str, Tally] = {}
    for machine in machines:
        good, bad = tallies.get(machine.model, Tally())
        tallies[machine.model] = Tally(good + machine.good, bad + (not machine.good))
    return tallies


def _drawn_costs(
    own: Sequence[float], common: list[float], count: int, chance: random.Random
) -> float:
    """What so many machines of a model cost together, drawn one after the other from two urns.

    A cost drawn goes back with one more of its kind: the Bayesian bootstrap without its weights (Blackwell &
    MacQueen 1973, Annals of Statistics 1, from memory). The model's own urn holds its machines and, as three more, a
    way to the urn of all machines, `common`, which keeps what was drawn from it.
    """
    urn = list(own)
    total = 0.0
    for _ in range(count):
        if chance.random() * (len(urn) + COST_MACHINES) < len(urn):
            cost = chance.choice(urn)
        else:
            cost = chance.choice(common) * math.exp(chance.gauss(0.0, UNSEEN_MACHINE))
            common.append(cost)
        urn.append(cost)
        total += cost
    known = math.sqrt(COST_MACHINES / (COST_MACHINES + len(own)))
    return total * math.exp(chance.gauss(0.0, UNSEEN_MODEL) * known)
