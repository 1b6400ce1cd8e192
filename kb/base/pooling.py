"""Partial pooling of counts on one model with those on others, and of shops (pooling): how much, as counts teach it.

What fails on a model is mostly what fails on all, but some models have habits of their own. One strength of pooling for
both would believe habits too late or chance too soon. So a model's counts choose among several strengths, each as
likely beforehand as the history makes it: a scale mixture of Dirichlet-multinomials (MacKay & Peto 1995, Natural
Language Engineering 1(3); Minka 2000, "Estimating a Dirichlet distribution"), its weights by expectation and
maximisation (Dempster, Laird & Rubin 1977, JRSS B 39).

Shops differ as models do. What one of them sends is bounded, whatever it sends: its jobs count as draws of one urn do
(`of_one_shop`), and how alike shops are is asked of each sheet with no shop answering louder than `LOUDEST`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

Shares = Mapping[str, float]

#: The strengths chosen among, in jobs: so many jobs on a model weigh as much as all that is known from others.
STRENGTHS = (0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0)
#: The strength where a model has one job of a sheet or none: one job cannot tell a habit from chance.
USUAL = 8.0
#: How many jobs on others weigh as much as a sheet's own weights, and what is tried for it.
USUAL_PRIOR, PRIORS = 10.0, (5.0, 10.0, 20.0, 40.0, 80.0)
#: Models with few, some and many jobs of a sheet have weights of their own, learned from groups of fewer than so many
#: jobs; the weights of each hold at its middle (in jobs), those in between are in between.
BOUNDS, MIDDLES = (4, 9), (2.4, 5.5, 14.0)
#: Before any history strengths are likely as a log-normal round the usual one says, worth so many groups.
SPREAD, PRIOR_GROUPS = 1.5, 20.0
#: So many groups with two jobs or more teach something; of more than the last number only every so-manieth is read.
FEWEST_GROUPS, MOST_GROUPS = 40, 1_000
#: A shop says of two strengths at most that one is so much likelier, as a logarithm, however many jobs it has.
LOUDEST = 3.0
#: Rounds of expectation and maximisation: more move no weight by a hundredth (500 and 2,500 simulated jobs).
ROUNDS = 12


@dataclass(frozen=True, slots=True)
class Group:
    """What one model had of one sheet: its counts, the counts of the others as they weigh, the sheet's own shares."""

    here: Shares
    elsewhere: Shares
    own: Shares


@dataclass(frozen=True, slots=True)
class Pooled:
    """Shares that sum to one, and on how many jobs each rests: a beta of so many in all has its spread."""

    shares: Mapping[str, float]
    jobs: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Pooling:
    """How much is pooled: jobs that a sheet's own weights are worth, and how likely each strength is at `MIDDLES`."""

    prior_jobs: float
    weights: tuple[tuple[float, ...], ...]

    def pooled(self, group: Group) -> Pooled:
        """The shares on the model of a group."""
        return self.over(
            smoothed(group.own, group.elsewhere, self.prior_jobs), group.here
        )

    def over(self, upper: Shares, counts: Shares) -> Pooled:
        """The shares on a model with those counts, over the shares that are known without them."""
        here = {
            name: count for name, count in counts.items() if name in upper and count > 0
        }
        jobs = sum(here.values())
        chances = _chances(self.likely(jobs), _log_chances(here, upper))
        parts = [
            (
                chance,
                jobs + strength,
                {
                    name: _mean(here, name, share, jobs, strength)
                    for name, share in upper.items()
                },
            )
            for chance, strength in zip(chances, STRENGTHS, strict=True)
        ]
        shares = {
            name: sum(chance * means[name] for chance, _, means in parts)
            for name in upper
        }
        return Pooled(
            shares,
            {name: _rests_on(name, share, parts) for name, share in shares.items()},
        )

    def likely(self, jobs: float) -> tuple[float, ...]:
        """How likely each strength is beforehand on a model with so many jobs of a sheet."""
        if jobs <= 1:
            return _USUALLY
        known = ((1.0, _USUALLY), *zip(MIDDLES, self.weights, strict=True))
        for (low, before), (high, after) in pairwise(known):
            if jobs <= high:
                way = math.log(jobs / low) / math.log(high / low)
                return tuple(
                    (1 - way) * one + way * other
                    for one, other in zip(before, after, strict=True)
                )
        return self.weights[-1]

    def to_json(self) -> str:
        """As text that `from_json` reads."""
        return json.dumps([self.prior_jobs, self.weights])


def from_json(text: str) -> Pooling | None:
    """The pooling that was written as text; None for no text."""
    if not text:
        return None
    prior_jobs, weights = json.loads(text)
    return Pooling(prior_jobs, tuple(tuple(one) for one in weights))


def smoothed(shares: Shares, counts: Shares, jobs: float) -> dict[str, float]:
    """Counts beside shares that are worth so many jobs, as shares: (n(c) + jobs·share(c)) / (N + jobs)."""
    total = sum(counts.get(name, 0.0) for name in shares)
    if not total:
        return dict(shares)
    return {
        name: (counts.get(name, 0.0) + jobs * share) / (total + jobs)
        for name, share in shares.items()
    }


@lru_cache(maxsize=4096)
def told(jobs: int) -> float:
    """What so many jobs of one cause on one other model tell of the rest: 1 + 1/2 + ... + 1/jobs.

    The hundredth job of a habit tells hardly more than the tenth: it is the mean number of tables of a Chinese
    restaurant of strength 1 (Antoniak 1974, Annals of Statistics 2(6)).

    >>> told(1), round(told(4), 4), round(told(100), 4), round(told(10_000), 4)
    (1.0, 2.0833, 5.1874, 9.7876)
    """
    if jobs > 200:
        return (
            math.log(jobs)
            + 0.5772156649015329
            + 1 / (2 * jobs)
            - 1 / (12 * jobs * jobs)
        )
    return sum(1 / number for number in range(1, jobs + 1))


def of_one_shop(jobs: float, alike: float = USUAL) -> float:
    """What so many jobs of one shop tell of all shops, in jobs of as many shops: n·(k + 1) / (n + k), `alike` being k.

    Jobs of one shop resemble each other by ρ = 1 / (k + 1), so that n of them tell as much as n / (1 + (n - 1)·ρ)
    (Kish 1965, "Survey Sampling", 5.4). However many they are, it is less than k + 1.

    >>> of_one_shop(1), of_one_shop(10), round(of_one_shop(1_000_000), 3)
    (1.0, 5.0, 9.0)
    """
    return jobs * (alike + 1.0) / (jobs + alike) if jobs else 0.0


def worth(alike: float, told_by_shops: float) -> float:
    """How many jobs of a shop's own weigh as much as what is known from others: k·(W + 10) / (W + k), 5 to 80.

    The variance between shops is that of a Dirichlet of concentration `alike`, as far as W jobs of other shops have
    shown it, and for the rest that of the usual prior, which is worth `USUAL_PRIOR` jobs: 1 / worth is their mean.

    >>> worth(40.0, 0.0), worth(40.0, 50.0), round(worth(40.0, 1e9), 2), worth(0.25, 1e9)
    (10.0, 26.666666666666668, 40.0, 5.0)
    """
    jobs = alike * (told_by_shops + USUAL_PRIOR) / (told_by_shops + alike)
    return min(max(jobs, PRIORS[0]), PRIORS[-1])


def alike(jobs: float, told_by_shops: float) -> float:
    """How alike shops are where what W jobs of others told is worth so many of a shop's own: the inverse of `worth`.

    >>> round(alike(worth(40.0, 50.0), 50.0), 6), alike(10.0, 0.0)
    (40.0, 10.0)
    """
    others = told_by_shops + USUAL_PRIOR - jobs
    return (
        jobs * told_by_shops / others if others > 0.0 and told_by_shops > 0.0 else jobs
    )


def between_shops(sheets: Mapping[str, Sequence[Group]]) -> dict[str, float]:
    """How alike shops are in each sheet, as a concentration; the likeliest over all sheets is the prior of each.

    A group is what one shop had of a sheet (`here`) beside the others (`elsewhere`). The same groups give the same to
    the last digit.
    """
    rows = {name: _said_by_shops(groups) for name, groups in sheets.items()}
    weights = _weights(list(rows.values()))
    return {name: _geometric_mean(_chances(weights, row)) for name, row in rows.items()}


def _said_by_shops(groups: Sequence[Group]) -> list[float]:
    """What shops say of each strength in one sheet, as a logarithm, each no louder than `LOUDEST`."""
    telling = [group for group in groups if sum(group.here.values()) >= 2]
    summed = [0.0] * len(STRENGTHS)
    for group in telling[:: math.ceil(len(telling) / MOST_GROUPS) or 1]:
        logs = _log_chances(
            group.here, smoothed(group.own, group.elsewhere, len(group.own) / 2)
        )
        least = max(logs) - LOUDEST
        summed = [
            whole + max(log, least) for whole, log in zip(summed, logs, strict=True)
        ]
    return summed


def _geometric_mean(chances: Sequence[float]) -> float:
    return math.exp(
        sum(
            chance * math.log(strength)
            for chance, strength in zip(chances, STRENGTHS, strict=True)
        )
    )


def learned(groups: Iterable[Group]) -> Pooling | None:
    """The pooling that is likeliest by the groups with two jobs or more; None where there are too few of them.

    The same groups in the same order give the same to the last digit.
    """
    telling = [group for group in groups if sum(group.here.values()) >= 2]
    if len(telling) < FEWEST_GROUPS:
        return None
    telling = telling[:: math.ceil(len(telling) / MOST_GROUPS)]
    tried = [_fitted(telling, prior_jobs) for prior_jobs in PRIORS]
    return max(tried, key=lambda one: one[0])[1]


def _fitted(groups: Sequence[Group], prior_jobs: float) -> tuple[float, Pooling]:
    """The pooling of such a prior under which the groups are likeliest, and before it how likely (as a logarithm)."""
    read = []
    for group in groups:
        upper = smoothed(group.own, group.elsewhere, prior_jobs)
        read.append((sum(group.here.values()), _log_chances(group.here, upper)))
    sorts: tuple[list[list[float]], ...] = ([], [], [])
    for jobs, logs in read:
        sorts[sum(jobs >= bound for bound in BOUNDS)].append(logs)
    found = Pooling(prior_jobs, tuple(_weights(one) for one in sorts))
    likely = -(math.log(prior_jobs / USUAL_PRIOR) ** 2) / 2
    return likely + sum(_log_of(found.likely(jobs), logs) for jobs, logs in read), found


def _weights(rows: Sequence[Sequence[float]]) -> tuple[float, ...]:
    """The weights of the strengths under which rows of log chances are likeliest, the prior among them."""
    weights = _BEFOREHAND
    for _ in range(ROUNDS):
        counted = [PRIOR_GROUPS * share for share in _BEFOREHAND]
        for row in rows:
            counted = [
                count + chance
                for count, chance in zip(counted, _chances(weights, row), strict=True)
            ]
        whole = sum(counted)
        weights = tuple(count / whole for count in counted)
    return weights


def _log_chances(here: Shares, upper: Shares) -> list[float]:
    """The logarithm of P(counts | strength) for each strength, but for what is the same for all of them."""
    jobs = sum(here.values())
    counts = [(upper[name], count) for name, count in here.items()]
    return [
        math.lgamma(strength)
        - math.lgamma(strength + jobs)
        + sum(
            math.lgamma(strength * share + count) - math.lgamma(strength * share)
            for share, count in counts
        )
        for strength in STRENGTHS
    ]


def _chances(weights: Sequence[float], logs: Sequence[float]) -> list[float]:
    """How likely each strength is after counts whose log chances are given."""
    top = max(logs)
    chances = [
        weight * math.exp(log - top) for weight, log in zip(weights, logs, strict=True)
    ]
    whole = sum(chances)
    return [chance / whole for chance in chances]


def _log_of(weights: Sequence[float], logs: Sequence[float]) -> float:
    top = max(logs)
    return top + math.log(
        sum(
            weight * math.exp(log - top)
            for weight, log in zip(weights, logs, strict=True)
        )
    )


def _mean(here: Shares, name: str, share: float, jobs: float, strength: float) -> float:
    return (here.get(name, 0.0) + strength * share) / (jobs + strength)


def _rests_on(
    name: str, share: float, parts: Sequence[tuple[float, float, Shares]]
) -> float:
    """On how many jobs a share rests: a beta of that many has the variance of the mixture."""
    spread = 0.0
    for chance, jobs, means in parts:
        mean = means[name]
        spread += chance * (mean * (1 - mean) / (jobs + 1) + (mean - share) ** 2)
    return max(share * (1 - share) / spread - 1, 1e-3) if spread > 0 else 1e-3


def _normal(strength: float) -> float:
    return math.exp(-(math.log(strength / USUAL) ** 2) / (2 * SPREAD**2))


_WHOLE = sum(map(_normal, STRENGTHS))
_BEFOREHAND = tuple(_normal(strength) / _WHOLE for strength in STRENGTHS)
_USUALLY = tuple(float(strength == USUAL) for strength in STRENGTHS)
