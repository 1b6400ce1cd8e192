"""How good a ranking or a probability is: search measures and calibration measures for tests and benchmarks."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

#: A probability of nothing would cost an infinite log loss: forecasts are held this far from 0 and 1.
SMALLEST = 1e-15


@dataclass(frozen=True, slots=True)
class Murphy:
    """A Brier score in parts: score = reliability - resolution + uncertainty (Murphy 1973)."""

    reliability: float
    resolution: float
    uncertainty: float

    @property
    def score(self) -> float:
        """The parts put together: the Brier score, if all forecasts of a group are equal."""
        return self.reliability - self.resolution + self.uncertainty


@dataclass(frozen=True, slots=True)
class Bin:
    """Forecasts of about the same probability: how many, their mean, and the share of them that came true."""

    count: int
    forecast: float
    observed: float

    @property
    def gap(self) -> float:
        """How far the forecasts of the bin are from what happened."""
        return abs(self.forecast - self.observed)


def success_at(k: int, relevant: Sequence[bool]) -> float:
    """1 if one of the first `k` results is relevant, else 0; `relevant` in the order shown.

    >>> success_at(2, [False, False, True]), success_at(3, [False, False, True])
    (0.0, 1.0)
    """
    return float(any(relevant[:k]))


def reciprocal_rank(relevant: Sequence[bool], at: int | None = None) -> float:
    """1 / rank of the first relevant result among the first `at` (all of them without), 0 if there is none.

    >>> reciprocal_rank([False, True, True]), reciprocal_rank([False, True], at=1)
    (0.5, 0.0)
    """
    return next((1.0 / rank for rank, hit in enumerate(relevant[:at], 1) if hit), 0.0)


def dcg(grades: Sequence[float]) -> float:
    """The discounted gain of results in the order shown: the sum of grade / log2(rank + 1).

    >>> round(dcg([3, 2, 3, 0, 1, 2]), 6)
    6.861127
    """
    return sum(grade / math.log2(rank + 1) for rank, grade in enumerate(grades, 1))


def ndcg(
    grades: Sequence[float], judged: Sequence[float], at: int | None = None
) -> float:
    """The discounted gain as a share of the best possible one, both cut after `at` results.

    `judged` holds the grades of all judged items, retrieved or not: an item that was missed costs. 0 if
    nothing judged has a grade.

    >>> round(ndcg([3, 2, 3, 0, 1, 2], [3, 2, 3, 0, 1, 2]), 6)
    0.960808
    """
    best = dcg(sorted(judged, reverse=True)[:at])
    return dcg(grades[:at]) / best if best else 0.0


def mean(values: Sequence[float]) -> float:
    """The plain mean; nan for no values."""
    return math.fsum(values) / len(values) if values else math.nan


def brier(forecasts: Sequence[float], happened: Sequence[bool]) -> float:
    """The mean squared error of the probabilities of an event (one class; 0 is perfect, always 1/2 gives .25).

    >>> round(brier([0.9, 0.2], [True, False]), 3)
    0.025
    """
    return mean([(p - hit) ** 2 for p, hit in zip(forecasts, happened, strict=True)])


def brier_of_classes(
    forecasts: Sequence[Mapping[str, float]], truths: Sequence[str]
) -> float:
    """Brier's own score of 1950: squared errors summed over all classes, mean over cases; from 0 to 2.

    A truth that a forecast does not name had the probability 0.

    >>> round(brier_of_classes([{"a": 0.7, "b": 0.2, "c": 0.1}], ["a"]), 2)
    0.14
    """
    scores = []
    for forecast, truth in zip(forecasts, truths, strict=True):
        named = math.fsum((p - (name == truth)) ** 2 for name, p in forecast.items())
        scores.append(named + (truth not in forecast))
    return mean(scores)


def log_loss(forecasts: Sequence[float], happened: Sequence[bool]) -> float:
    """The mean of -ln(probability given to what happened), for one event.

    >>> round(log_loss([0.5, 0.5], [True, False]), 6) == round(math.log(2), 6)
    True
    """
    given = [p if hit else 1.0 - p for p, hit in zip(forecasts, happened, strict=True)]
    return mean([-math.log(max(p, SMALLEST)) for p in given])


def log_loss_of_classes(
    forecasts: Sequence[Mapping[str, float]], truths: Sequence[str]
) -> float:
    """The mean of -ln(probability given to the class that was true)."""
    given = [
        forecast.get(truth, 0.0)
        for forecast, truth in zip(forecasts, truths, strict=True)
    ]
    return mean([-math.log(max(p, SMALLEST)) for p in given])


def murphy(forecasts: Sequence[float], happened: Sequence[bool]) -> Murphy:
    """The Brier score in parts, grouped by equal forecasts, for which alone the identity is exact.

    >>> found = murphy([0.1] * 5 + [0.4] * 5 + [0.8] * 10, [True] + [False] * 4 + [True, True] + [False] * 3
    ...     + [True] * 7 + [False] * 3)
    >>> round(found.reliability, 4), round(found.resolution, 4), round(found.uncertainty, 4)
    (0.0075, 0.045, 0.25)
    """
    groups: dict[float, list[bool]] = defaultdict(list)
    for p, hit in zip(forecasts, happened, strict=True):
        groups[p].append(hit)
    total, base = len(forecasts), mean(happened)
    return Murphy(
        math.fsum(len(hits) * (p - mean(hits)) ** 2 for p, hits in groups.items())
        / total,
        math.fsum(len(hits) * (mean(hits) - base) ** 2 for hits in groups.values())
        / total,
        base * (1.0 - base),
    )


def bins(
    forecasts: Sequence[float], happened: Sequence[bool], number: int = 10
) -> list[Bin]:
    """The forecasts in bins of equal width, empty ones left out, lowest first; 1 belongs to the last bin.

    >>> [one.count for one in bins([0.05, 0.1, 1.0], [False, True, True])]
    [1, 1, 1]
    """
    held: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for p, hit in zip(forecasts, happened, strict=True):
        held[min(int(p * number), number - 1)].append((p, hit))
    return [
        Bin(len(pairs), mean([p for p, _ in pairs]), mean([hit for _, hit in pairs]))
        for _, pairs in sorted(held.items())
    ]


def calibration_error(
    forecasts: Sequence[float], happened: Sequence[bool], number: int = 10
) -> float:
    """The expected calibration error: the mean gap between forecast and event frequency, bins weighted by count.

    100 perfectly calibrated cases in 10 bins show about .10, and one time in 20 more than .14: ask for less of more.
    """
    found = bins(forecasts, happened, number)
    return math.fsum(one.count * one.gap for one in found) / len(forecasts)


def worst_gap(
    forecasts: Sequence[float], happened: Sequence[bool], number: int = 10
) -> float:
    """The largest gap of any bin (the maximum calibration error)."""
    return max(one.gap for one in bins(forecasts, happened, number))
