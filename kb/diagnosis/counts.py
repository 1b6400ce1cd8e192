"""Counts: how often each entry, cause and outcome was confirmed, on one model and on all others.

In beliefs an old job may weigh less, and a job whose words were said of many entries says less of how often its
entry is behind words that tell something. What people are shown stays whole jobs as they were counted.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from kb.diagnosis.beyond import Beyond
from kb.diagnosis.causes import Counts
from kb.index.jobs import JobsAlike
from kb.library.outcomes import expected_outcomes
from kb.model import Entry


@dataclass(frozen=True, slots=True)
class Ageing:
    """How an old job counts: half after `half_life_days`, seen from the day `today` (UTC); 0 days: all alike.

    Only entries and causes age; how reliable a test is, and in which words people complain, is no matter of season.
    """

    half_life_days: float = 0.0
    today: date = date.min

    def weight(self, day: str) -> float:
        """What a job closed on that day (ISO, UTC) counts: 0.5 to the power of its age in half-lives, 1 if from later.

        >>> half = Ageing(365, date(2026, 1, 1))
        >>> half.weight("2025-01-01"), half.weight("2024-01-02"), half.weight("2026-01-05"), half.weight("")
        (0.5, 0.25, 1.0, 1.0)
        """
        if self.half_life_days <= 0 or not day:
            return 1.0
        return float(
            0.5
            ** (
                max((self.today - date.fromisoformat(day)).days, 0)
                / self.half_life_days
            )
        )


#: No job ages.
ALIKE = Ageing()


@dataclass(frozen=True, slots=True)
class Confirmed:
    """All confirmed jobs by entry, and for every entry that has any by cause."""

    entries: Counts
    causes: Mapping[str, Counts]

    def beside(self, beyond: Beyond | None) -> Confirmed:
        """The same with how often other shops had each entry: on the model their jobs count as the shop's own do.

        What people are shown stays the shop's own jobs.
        """
        if beyond is None:
            return self
        here = Counter(self.entries.here)
        here.update(beyond.here)
        return replace(
            self,
            entries=replace(
                self.entries, here=dict(here), whole=self.entries.told, beyond=beyond
            ),
        )


def confirmed(alike: Iterable[JobsAlike], ageing: Ageing = ALIKE) -> Confirmed:
    """The confirmed jobs, on the model and on all others, as old ones weigh."""
    entries = _Tally()
    causes: dict[str, _Tally] = defaultdict(_Tally)
    for jobs in alike:
        weight = ageing.weight(jobs.day)
        entries.add(jobs.entry, jobs, jobs.telling * weight)
        causes[jobs.entry].add(jobs.cause, jobs, jobs.number * weight)
    return Confirmed(
        entries.counts, {entry: tally.counts for entry, tally in causes.items()}
    )


@dataclass(frozen=True, slots=True)
class TestRecord:
    """How often a test showed what the confirmed cause makes it show, and how often not."""

    right: int
    wrong: int


def of_tests(
    shown_on: Iterable[tuple[str, list[list[str]], int]], entry: Entry
) -> dict[str, TestRecord]:
    """By test how it did on the jobs of its entry whose cause was confirmed; tests never used are left out.

    `shown_on` holds for such jobs, those alike together, their cause, the outcomes of their tests and their number.
    """
    right: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    for cause, outcomes, jobs in shown_on:
        for shown_test, shown in outcomes:
            slug, _, name = shown_test.partition("/")
            told = _told(entry, cause, name, shown) if slug == entry.slug else None
            if told is not None:
                (right if told else wrong)[name] += jobs
    return {
        name: TestRecord(right[name], wrong[name])
        for name in right.keys() | wrong.keys()
    }


def _told(entry: Entry, cause: str, name: str, shown: str) -> bool | None:
    """Whether a test showed what the confirmed cause makes it show; None where that says nothing of the test."""
    test = entry.test(name) if entry.cause(cause) else None
    place = test.place_of(shown) if test else None
    if test is None or place is None:
        return None
    expected = expected_outcomes(test, cause)
    return place in expected if len(expected) < len(test.outcomes) else None


class _Tally:
    """The jobs by name as they weigh, and the same as whole jobs beside them."""

    def __init__(self) -> None:
        self._here: tuple[dict[str, float], dict[str, float]] = {}, {}
        self._elsewhere: tuple[dict[str, float], dict[str, float]] = {}, {}

    def add(self, name: str, jobs: JobsAlike, weight: float) -> None:
        weighed, whole = self._here if jobs.here else self._elsewhere
        weighed[name] = weighed.get(name, 0.0) + weight
        whole[name] = whole.get(name, 0.0) + jobs.number

    @property
    def counts(self) -> Counts:
        (here, whole_here), (elsewhere, whole_elsewhere) = self._here, self._elsewhere
        return Counts(here, elsewhere, Counts(whole_here, whole_elsewhere))
