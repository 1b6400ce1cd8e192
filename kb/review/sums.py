"""Sums of closed jobs as a review needs them: counted once, and added to as jobs come, instead of anew each time."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import compress

from kb.index.jobs import Works
from kb.review.period import ALWAYS, Period


@dataclass(slots=True)
class CauseSums:
    """What the jobs of one cause tell, or all jobs: machines, minutes, parts, quarters, and when the first was closed.

    `given` counts the parts that came from donors; the minutes are in no order.
    """

    jobs: int = 0
    machines: set[str] = field(default_factory=set)
    minutes: list[float] = field(default_factory=list)
    parts: Counter[str] = field(default_factory=Counter)
    given: Counter[str] = field(default_factory=Counter)
    quarters: Counter[str] = field(default_factory=Counter)
    first: str = ""
    last: str = ""

    def add(self, works: Works, quarters: Sequence[str]) -> None:
        """Count further jobs, closed after all others, each with its quarter."""
        self.jobs += len(works)
        self.machines.update(works.machines)
        self.minutes += [spent for spent in works.minutes if spent is not None]
        self.minutes.sort()  # next to nothing where most of them are in order
        self.parts.update(filter(None, works.parts))
        self.given.update(compress(works.parts, works.donors))
        self.quarters.update(quarters)
        self.first = self.first or works.closed_at[0]
        self.last = works.closed_at[-1]


class FailureSums:
    """What jobs tell of failures: of all of them together, and cause by cause."""

    def __init__(self, period: Period = ALWAYS) -> None:
        self._period = period
        self.all = CauseSums()
        self.causes: dict[str, CauseSums] = {}

    def add(self, works: Works) -> None:
        """Count further jobs in the order of time, closed after all others."""
        if not len(works):
            return
        quarters = self._period.quarters(works.closed_at)
        self.all.add(works, quarters)
        for cause, places in _places(works.causes).items():
            own = self.causes.setdefault(cause, CauseSums())
            own.add(_at(works, places), [quarters[place] for place in places])


def _places(causes: Iterable[str]) -> Mapping[str, list[int]]:
    """The places of the jobs of each cause, in their order."""
    found: defaultdict[str, list[int]] = defaultdict(list)
    for place, cause in enumerate(causes):
        found[cause].append(place)
    return found


def _at(works: Works, places: Collection[int]) -> Works:
    """What the sums of a cause need of the jobs at those places."""
    return Works(
        causes=[works.causes[place] for place in places],
        machines=[works.machines[place] for place in places],
        minutes=[works.minutes[place] for place in places],
        parts=[works.parts[place] for place in places],
        donors=[works.donors[place] for place in places],
        closed_at=[works.closed_at[place] for place in places],
    )


@dataclass(slots=True)
class ModelSums:
    """What jobs tell of models, which are named without case: jobs, parts, and the minutes of every machine.

    `written` is how each model was written first, `untold` are machines that had a job without its minutes.
    """

    jobs: Counter[str] = field(default_factory=Counter)
    parts: Counter[str] = field(default_factory=Counter)
    written: dict[str, str] = field(default_factory=dict)
    model_of: dict[str, str] = field(default_factory=dict)
    spent: dict[str, float] = field(default_factory=dict)
    untold: set[str] = field(default_factory=set)

    def add(self, works: Works) -> None:
        """Count further jobs, in the order of time and after all others."""
        folded = {model: model.casefold() for model in set(works.models)}
        names = [folded[model] for model in works.models]
        self.jobs.update(names)
        self.parts.update(compress(names, works.parts))
        first = dict(zip(reversed(names), reversed(works.models), strict=True))
        self.written = first | self.written
        self.model_of.update(zip(works.machines, names, strict=True))
        spent = self.spent
        for machine, minutes in zip(works.machines, works.minutes, strict=True):
            spent[machine] = spent.get(machine, 0.0) + (minutes or 0.0)
            if minutes is None:
                self.untold.add(machine)

    def timed(self) -> Mapping[str, list[float]]:
        """By model the minutes of every machine all of whose jobs have theirs."""
        timed: dict[str, list[float]] = {name: [] for name in self.jobs}
        for machine, minutes in self.spent.items():
            if machine not in self.untold:
                timed[self.model_of[machine]].append(minutes)
        return timed


def failures_of(works: Works, period: Period = ALWAYS) -> FailureSums:
    """What those jobs tell of failures; quarters are the period's."""
    sums = FailureSums(period)
    sums.add(works)
    return sums


def models_of(works: Works) -> ModelSums:
    """What those jobs tell of models."""
    sums = ModelSums()
    sums.add(works)
    return sums
