"""Pooled counts: what many shops had of each sheet, cause and model, so that no single shop can sway it far.

What one shop may (its bound, whatever it sends): a share of a cause, as a shop without jobs of its own believes it,
moves by less than 9 / (9 + 10 + W), where 10 jobs are what the sheet's own weights are worth and W is what the other
shops tell; a lone shop can move it by .47, one of ten that know the sheet well by .09. What it tells of a sheet is
shared among the models on which it had it, so that no shop tells 9 jobs of each. The odds of two sheets move by less
than (30 + 33) / 30 = 2.1, since every sheet has 30 jobs beforehand.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from datetime import date
from functools import cached_property
from typing import NamedTuple

from kb.base import pooling
from kb.base.pooling import Group
from kb.history.same import folded
from kb.index.elsewhere import (
    CAUSES_ALIKE,
    OFTEN_ALIKE,
    ModelElsewhere,
    PooledCounts,
    SheetElsewhere,
)

#: So many digits after the point have weights in the file.
DIGITS = 4

#: By shop and cause, numbers of jobs.
ByShop = Mapping[str, Mapping[str, int]]


class SharedCount(NamedTuple):
    """So many jobs of one cause (without its entry) on one model that a shop had."""

    shop: str
    model: str
    entry: str
    cause: str
    jobs: int


def pooled(
    rows: Iterable[SharedCount | tuple[str, str, str, str, int]], made: date
) -> PooledCounts:
    """The counts of all shops as one file of that day; the same rows in any order make the same file to the byte.

    A cause may be named with its entry (`entry/cause`). Rows without jobs, entry or cause are left out.
    """
    sheets: dict[str, _Sheet] = defaultdict(_Sheet)
    sent: Counter[str] = Counter()
    for row in sorted(map(SharedCount._make, rows)):
        cause = row.cause.removeprefix(f"{row.entry}/")
        if row.jobs > 0 and row.entry and cause:
            sheets[row.entry].add(row._replace(cause=cause))
            sent[row.shop] += row.jobs
    alike = pooling.between_shops(
        {slug: sheet.groups() for slug, sheet in sheets.items()}
    )
    return PooledCounts(
        made=made.isoformat(),
        shops=len(sent),
        jobs=sent.total(),
        sheets={slug: sheet.told(alike[slug]) for slug, sheet in sheets.items()},
        sent=sent,
    )


class _Sheet:
    """The counts of one sheet, of all models and by model (folded)."""

    def __init__(self) -> None:
        self.jobs = 0
        self.all = _by_shop()
        self.models: dict[str, dict[str, dict[str, int]]] = defaultdict(_by_shop)

    def add(self, row: SharedCount) -> None:
        """Count a row."""
        self.jobs += row.jobs
        self.all[row.shop][row.cause] += row.jobs
        if model := folded(row.model):
            self.models[model][row.shop][row.cause] += row.jobs

    def groups(self) -> list[Group]:
        """What each shop had beside the others, whose jobs count as they weigh."""
        told, each = self._sum(self.all), self._each
        own = {cause: 1 / len(told) for cause in told}
        return [
            Group(
                here=counts,
                own=own,
                elsewhere={
                    cause: max(told[cause] - each[shop] * counts.get(cause, 0), 0.0)
                    for cause in told
                },
            )
            for shop, counts in self.all.items()
        ]

    def told(self, alike: float) -> SheetElsewhere:
        """The sheet as it stands in the file, where its shops are so much alike."""
        causes = self._sum(self.all)
        return SheetElsewhere(
            shops=len(self.all),
            jobs=self.jobs,
            often=_often(self.all.values()),
            strength=round(pooling.worth(alike, sum(causes.values())), 2),
            causes=_rounded(causes),
            models={
                model: _of_model(self._sum(shops))
                for model, shops in sorted(self.models.items())
            },
        )

    @cached_property
    def _each(self) -> dict[str, float]:
        """What one job of each shop weighs, on whatever model it was."""
        jobs = {shop: sum(counts.values()) for shop, counts in self.all.items()}
        return {
            shop: pooling.of_one_shop(number, CAUSES_ALIKE) / number
            for shop, number in jobs.items()
        }

    def _sum(self, shops: ByShop) -> dict[str, float]:
        """The counts of all shops as they weigh, in the order of the causes."""
        summed: dict[str, float] = defaultdict(float)
        for shop, counts in shops.items():
            for cause, count in counts.items():
                summed[cause] += self._each[shop] * count
        return dict(sorted(summed.items()))


def _by_shop() -> dict[str, dict[str, int]]:
    return defaultdict(lambda: defaultdict(int))


def _of_model(causes: Mapping[str, float]) -> ModelElsewhere:
    return ModelElsewhere(
        often=round(sum(causes.values()), DIGITS), causes=_rounded(causes)
    )


def _often(shops: Iterable[Mapping[str, int]]) -> float:
    """How often all shops had it, as it weighs."""
    return round(
        sum(pooling.of_one_shop(sum(counts.values()), OFTEN_ALIKE) for counts in shops),
        DIGITS,
    )


def _rounded(weights: Mapping[str, float]) -> dict[str, float]:
    return {name: round(weight, DIGITS) for name, weight in weights.items()}
