"""Own jobs: what a shop itself told of pooled counts is taken off them, so that its jobs are not believed twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date

from kb.base import pooling
from kb.history import History
from kb.index.elsewhere import (
    CAUSES_ALIKE,
    OFTEN_ALIKE,
    ModelElsewhere,
    PooledCounts,
    SheetElsewhere,
)
from kb.model import Job
from kb.office.pooled import DIGITS, SharedCount, pooled
from kb.office.shared import office_id
from kb.review.work import model_of

#: What is left of a weight below this is rounding.
_NOTHING = 2 * 10.0**-DIGITS


def others_only(
    counts: PooledCounts, history: History, came_in: Mapping[str, str]
) -> PooledCounts:
    """The counts without what this shop had sent; the same ones where it had sent nothing.

    A shop's first jobs are taken for those that it sent, as many as the office had of it. One that was retracted since
    is thereby replaced by a later one, which moves the counts by less than a job. `came_in` gives the models of
    machines by their folded tags.
    """
    known = {office_id(shop): shop for shop in history.own_shops()}
    ours = {told: jobs for told, jobs in counts.sent.items() if told in known}
    if not ours:
        return counts
    own = pooled(_sent_jobs(history, came_in, ours), date.fromisoformat(counts.made))
    kept = {
        slug: _less(sheet, own.sheets.get(slug))
        for slug, sheet in counts.sheets.items()
    }
    return replace(
        counts,
        shops=max(counts.shops - len(ours), 0),
        jobs=max(counts.jobs - own.jobs, 0),
        sheets={slug: sheet for slug, sheet in kept.items() if sheet},
        sent={told: jobs for told, jobs in counts.sent.items() if told not in ours},
        left_out=own.jobs,
    )


def _sent_jobs(
    history: History, came_in: Mapping[str, str], ours: Mapping[str, int]
) -> Iterator[SharedCount]:
    """The first jobs of each shop of this history, as many as the office had under its id.

    Jobs of a folder that was moved here, and has been sent from here since, stand under the id of this history.
    """
    left = Counter(ours)
    here, own = office_id(history.shop), history.own_shops()
    for job in history.closed_jobs():
        if job.shop not in own:
            continue
        told = office_id(job.shop)
        shop = told if told in ours else here
        if left[shop] > 0:
            left[shop] -= 1
            yield _counted(job, shop, came_in)


def _counted(job: Job, shop: str, came_in: Mapping[str, str]) -> SharedCount:
    entry, _, cause = job.cause.partition("/")
    return SharedCount(shop, model_of(job.model, job.unit, came_in), entry, cause, 1)


def _less(sheet: SheetElsewhere, own: SheetElsewhere | None) -> SheetElsewhere | None:
    """What other shops had of a sheet, None where nobody else had it."""
    if own is None:
        return sheet
    shops = sheet.shops - own.shops
    if shops < 1:
        return None
    most = shops * (CAUSES_ALIKE + 1.0)
    causes = _weights_less(sheet.causes, own.causes, most)
    alike = pooling.alike(sheet.strength, sum(sheet.causes.values()))
    models = {
        model: _model_less(had, own.models.get(model), most)
        for model, had in sheet.models.items()
    }
    return SheetElsewhere(
        shops=shops,
        jobs=max(sheet.jobs - own.jobs, shops),
        often=_within(sheet.often - own.often, shops * (OFTEN_ALIKE + 1.0)),
        strength=round(pooling.worth(alike, sum(causes.values())), 2),
        causes=causes,
        models={model: had for model, had in models.items() if had.causes},
    )


def _model_less(
    had: ModelElsewhere, own: ModelElsewhere | None, most: float
) -> ModelElsewhere:
    if own is None:
        return had
    return ModelElsewhere(
        often=_within(had.often - own.often, most),
        causes=_weights_less(had.causes, own.causes, most),
    )


def _weights_less(
    had: Mapping[str, float], own: Mapping[str, float], most: float
) -> dict[str, float]:
    """The weights that are left, no more in all than so many shops may tell."""
    left = {cause: weight - own.get(cause, 0.0) for cause, weight in had.items()}
    left = {cause: weight for cause, weight in left.items() if weight > _NOTHING}
    share = min(most / sum(left.values()), 1.0) if left else 1.0
    return {cause: round(weight * share, DIGITS) for cause, weight in left.items()}


def _within(weight: float, most: float) -> float:
    return round(min(max(weight, 0.0), most), DIGITS)
