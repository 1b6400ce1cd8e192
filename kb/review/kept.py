"""Sums of all jobs that are kept between one review and the next: what was closed since is added to them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from kb.index.index import JOBS_SHOPS, Index
from kb.index.jobs import Works
from kb.review.period import ALWAYS, Period
from kb.review.reach import WorkingDays
from kb.review.sums import FailureSums, ModelSums
from kb.review.work import days_of, turned_out


@dataclass(slots=True)
class Sums:
    """What the closed jobs tell of failures, of models and of the days on which the shop worked."""

    failures: FailureSums
    models: ModelSums = field(default_factory=ModelSums)
    days: list[WorkingDays] = field(default_factory=list)

    def add(self, works: Works) -> None:
        """Count further jobs, in the order of time and after all others."""
        if not len(works):
            return
        self.failures.add(works)
        self.models.add(works)
        first, *others = days_of(works)
        if self.days and self.days[-1].last[:10] == first.first[:10]:
            before = self.days.pop()
            first = WorkingDays(before.first, first.last, before.jobs + first.jobs)
        self.days += [first, *others]


def summed(works: Works, period: Period = ALWAYS) -> Sums:
    """What those jobs tell; quarters are the period's."""
    sums = Sums(FailureSums(period))
    sums.add(works)
    return sums


@dataclass(frozen=True, slots=True)
class _Counted:
    """What is kept: the sums, what they hang on beside jobs, the last record, and the jobs of each cause and model."""

    sums: Sums
    grounds: tuple[object, ...]
    last: tuple[int, str]
    jobs: Counter[tuple[str, str]]


class KeptSums:
    """The sums of all jobs of a shop, as of the last review; not for two threads at a time.

    Kept sums hold as long as only jobs closed later came in: the index's own count of jobs by cause and model says so.
    Where one was put away, renamed or brought in with an older date, all jobs are counted again.
    """

    def __init__(self) -> None:
        self._kept: _Counted | None = None

    def of(
        self, index: Index, came_in: Mapping[str, str], period: Period = ALWAYS
    ) -> Sums:
        """The sums of all jobs, each under the model that its machine turned out to be; the period gives the zone."""
        grounds = (dict(came_in), period, index.about(JOBS_SHOPS))
        last, tallied = index.jobs.last(), index.jobs.tallied()
        kept, self._kept = self._kept, None
        if kept and kept.grounds == grounds and _is_there(kept.last, index):
            further = index.jobs.closed(period.begin, period.end, after=kept.last[0])
            jobs = kept.jobs + _counted(further)
            if jobs == tallied and _follow(further, kept.sums.days):
                kept.sums.add(turned_out(further, came_in))
                self._kept = _Counted(kept.sums, grounds, last, jobs)
                return kept.sums
        everything = index.jobs.closed(period.begin, period.end)
        sums = summed(turned_out(everything, came_in), period)
        if (jobs := _counted(everything)) == tallied:
            self._kept = _Counted(sums, grounds, last, jobs)
        return sums


def _is_there(last: tuple[int, str], index: Index) -> bool:
    """Whether the history goes on from that record, and is no other one."""
    return index.jobs.last(last[0]) == last


def _counted(works: Works) -> Counter[tuple[str, str]]:
    return Counter(zip(works.causes, works.models, strict=True))


def _follow(further: Works, days: list[WorkingDays]) -> bool:
    """Whether these jobs were closed after all others."""
    return not (len(further) and days) or further.closed_at[0] > days[-1].last
