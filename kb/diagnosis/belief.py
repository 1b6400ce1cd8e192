"""Belief: counts and weights as probabilities, what this shop knows of causes on this model and on others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache

from kb.base import pooling
from kb.base.quantiles import Interval as Interval
from kb.base.quantiles import beta_quantile
from kb.diagnosis.beyond import Beyond, upper

#: How many jobs on other models weigh as much as the entry's own weights (design, section 5: k0), until a history says.
CAUSE_PRIOR_JOBS = pooling.USUAL_PRIOR
#: How many jobs on this model weigh as much as what is known from the others (design, section 5: k1), until then too.
CAUSE_MODEL_JOBS = pooling.USUAL
#: The same for entries among themselves, as jobs per entry of the library: words tell entries apart, frequency leans.
#: What all machines of a shop have most is no more than a lean: at 20, a careless history with twelve habits costs half
#: a point, at 30 nothing, for three in a thousand fewer first on simulated jobs.
ENTRY_PRIOR_JOBS = 30.0
#: What a model has more often than others is a habit of its own and soon believed: on simulated jobs 3 instead of 20
#: puts the right entry first for one to two more in a hundred, and for as many as before where models have no habits.
ENTRY_MODEL_JOBS = 3.0
#: The share of an entry's belief kept for a cause that it does not list.
UNLISTED_SHARE = 0.04


def two_levels(
    weights: Mapping[str, float],
    elsewhere: Mapping[str, float],
    here: Mapping[str, float],
    prior_jobs: float = CAUSE_PRIOR_JOBS,
    model_jobs: float = CAUSE_MODEL_JOBS,
    *,
    beyond: Beyond | None = None,
) -> dict[str, float]:
    """The share of each cause on this model: prior weights, then other models, then this one.

    θ(c) = (n_other(c) + k0·w(c)) / (N_other + k0) and θ(c|m) = (n_m(c) + k1·θ(c)) / (N_m + k1): the posterior
    mean of a Dirichlet-multinomial on both levels, the upper one plugged in (MacKay & Peto 1995, Natural
    Language Engineering 1(3)). Counts of causes without a weight are left out. Shares sum to one. What other shops had
    stands between (`kb.diagnosis.beyond`).

    >>> pi = dict(a=.4, b=.3, c=.2, d=.1)
    >>> share = two_levels(pi, dict(a=30, b=10, c=5, d=5), dict(a=1, b=4))
    >>> [round(p, 6) for p in share.values()]
    [0.425641, 0.441026, 0.071795, 0.061538]
    """
    return pooling.smoothed(
        upper(weights, elsewhere, beyond, prior_jobs, model_jobs), here, model_jobs
    )


def with_findings(
    prior: Mapping[str, float], likelihoods: Iterable[Mapping[str, float]]
) -> dict[str, float]:
    """The belief after test outcomes: P(c) · Π P(outcome | c), made to sum to one (Bayes' rule).

    A candidate that a likelihood does not name is left as it is. If nothing is possible any more, the
    prior stands.

    >>> findings = [dict(a=.9, b=.2, c=.1, d=.05), dict(a=.9, b=.2, c=.7, d=.95)]
    >>> after = with_findings(dict(a=.4, b=.3, c=.2, d=.1), findings)
    >>> [round(p, 6) for p in after.values()]
    [0.913319, 0.033827, 0.039464, 0.01339]
    """
    weights = dict(prior)
    for likelihood in likelihoods:
        weights = {
            name: weight * likelihood.get(name, 1.0) for name, weight in weights.items()
        }
        top = max(weights.values(), default=0.0)
        if top > 0:
            weights = {name: weight / top for name, weight in weights.items()}
    total = sum(weights.values())
    if total <= 0:
        weights, total = dict(prior), sum(prior.values())
    return (
        {name: weight / total for name, weight in weights.items()}
        if total > 0
        else weights
    )


def learned(
    claim: float, right: float, wrong: float, claim_jobs: float = 20.0
) -> float:
    """A test's reliability after outcomes on jobs with a confirmed cause: the mean of a Beta posterior.

    The entry's claim counts as `claim_jobs` past uses (19 right in 20 is such a claim).

    >>> round(learned(0.95, right=0, wrong=0), 2), round(learned(0.95, right=2, wrong=8), 2)
    (0.95, 0.7)
    """
    return (claim * claim_jobs + right) / (claim_jobs + right + wrong)


@lru_cache(maxsize=16_384)  # the causes of the shipped entries on a dozen models
def interval(successes: float, failures: float) -> Interval:
    """The central 95 % of Beta(successes, failures).

    >>> found = interval(5.533333, 7.466667)
    >>> round(found.low, 4), round(found.high, 4)
    (0.1825, 0.6905)
    """
    if successes <= 0 or failures <= 0:
        return Interval(0.0 if successes <= 0 else 1.0, 1.0 if failures <= 0 else 0.0)
    return Interval(
        beta_quantile(0.025, successes, failures),
        beta_quantile(0.975, successes, failures),
    )
