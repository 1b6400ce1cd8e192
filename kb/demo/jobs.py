"""An invented shop: three years of closed jobs on machines that never were, to look at and to try everything on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from random import Random

from kb.base.clock import stamp
from kb.demo.complaints import complaint
from kb.demo.habits import Fault, Faults
from kb.demo.scenario import Scenario, shipped_scenario
from kb.diagnosis.case import OPENING_MINUTES
from kb.history import History
from kb.history.ids import derived_id
from kb.library.outcomes import outcome_probabilities
from kb.model import Entry, Finding, Fix, Job, Test

#: Told with every job, so that nobody takes it for a real one.
NOTE = "invented"
SEED = 20

#: The first and the last day of the invented history.
FIRST_DAY, LAST_DAY = date(2023, 11, 1), date(2026, 10, 31)
JOBS = 2500
#: Every entry comes up at least so often.
LEAST_JOBS = 3
#: The share of jobs on a machine that was here before: 2,500 jobs on about 1,900 machines.
RETURNS = 0.24
#: The shares of fitted parts that came from a donor, and of donors that are of the same model.
FROM_DONOR, SAME_MODEL = 0.45, 0.85
#: Bench minutes spread about fix and tests: standard deviation of their logarithm (common for task times).
SPREAD = 0.35

_INITIALS = ("AW", "JT", "MK", "RS")


def invented_jobs(
    entries: Sequence[Entry],
    seed: int = SEED,
    count: int = JOBS,
    scenario: Scenario | None = None,
) -> tuple[Job, ...]:
    """The closed jobs of the invented shop, oldest first; the same entries and seed give the same jobs.

    What is drawn for a job depends on its own entry alone, so that a changed sheet changes no other job, but for the
    donor that a part comes from: it gives each part once.
    """
    rng = Random(f"jobs {seed}")
    scenario = scenario or shipped_scenario()
    faults = Faults(entries, seed, scenario)
    if not faults.entries:
        return ()
    drawn = [
        faults.of_entry(slug, rng) for slug in faults.entries for _ in range(LEAST_JOBS)
    ][:count]
    drawn += [faults.draw(rng) for _ in range(count - len(drawn))]
    rng.shuffle(drawn)
    times = sorted(_closing_time(rng) for _ in drawn)
    seen: dict[str, int] = {}
    donors = _Donors(scenario)
    jobs = []
    for number, (fault, closed_at) in enumerate(zip(drawn, times, strict=True)):
        own = Random(f"job {seed} {number}")
        unit = _unit(fault.model, seen, rng)
        job = _job(
            derived_id(f"{scenario.shop} {seed} {number}"), fault, closed_at, unit, own
        )
        jobs.append(replace(job, donor=donors.of(fault.model, job.part, own)))
    return tuple(jobs)


def fill(history: History, jobs: Sequence[Job]) -> int:
    """Write the jobs into an empty history, all or none; gives how many, 0 if it holds anything already."""
    with history.together():
        if history.tip().count:
            return 0
        for job in jobs:
            history.adopt(job)
    return len(jobs)


def _job(name: str, fault: Fault, closed_at: str, unit: str, rng: Random) -> Job:
    tests = _tests_done(fault.entry.tests, rng)
    part = rng.choice(fault.parts) if fault.parts else ""
    return Job(
        job=name,
        shop=fault.scenario.shop,
        model=fault.model,
        unit=unit,
        words=complaint(fault.entry, rng, fault.scenario),
        cause=fault.name,
        minutes=_minutes(fault.fix, tests, rng),
        part=part,
        outcomes=tuple(_finding(fault, test, rng) for test in tests),
        closed_at=closed_at,
        note=NOTE,
        by=rng.choice(_INITIALS),
    )


def _tests_done(tests: Sequence[Test], rng: Random) -> list[Test]:
    """One to three of the tests, the early ones more often, in their order."""
    wanted = min(rng.choice((1, 2, 2, 3)), len(tests))
    done: set[int] = set()
    while len(done) < wanted:
        done.add(min(rng.randrange(len(tests)), rng.randrange(len(tests))))
    return [tests[i] for i in sorted(done)]


def _finding(fault: Fault, test: Test, rng: Random) -> Finding:
    chances = outcome_probabilities(test, fault.cause)
    return Finding(
        f"{fault.entry.slug}/{test.slug}", rng.choices(test.outcomes, chances)[0].text
    )


def _minutes(fix: Fix | None, tests: Sequence[Test], rng: Random) -> float:
    steps: list[Test | Fix] = [*tests, fix] if fix else [*tests]
    opened = any(step.cover_off for step in steps)
    usual = sum(step.minutes for step in steps) + OPENING_MINUTES * opened
    return max(1.0, float(round(usual * rng.lognormvariate(0.0, SPREAD))))


def _unit(model: str, seen: dict[str, int], rng: Random) -> str:
    """The tag of a machine that comes back, or of the next new one."""
    if seen.get(model) and rng.random() < RETURNS:
        return _tag(model, rng.randint(1, seen[model]))
    seen[model] = seen.get(model, 0) + 1
    return _tag(model, seen[model])


class _Donors:
    """The machines that are kept for their parts (numbered from 9001): each gives each of its parts once.

    A class because what one gave it can give no more.
    """

    def __init__(self, scenario: Scenario) -> None:
        self._scenario = scenario
        self._given: dict[str, list[set[str]]] = {}

    def of(self, model: str, part: str, rng: Random) -> str:
        """The tag of the donor of a part for a model, or empty for a part from the drawer."""
        if not part or part in self._scenario.consumables or rng.random() >= FROM_DONOR:
            return ""
        fitting = [
            other
            for other in self._scenario.models
            if self._scenario.fits_across(part, other, model)
        ]
        others = sorted(other for other in fitting if other != model)
        if others and rng.random() >= SAME_MODEL:
            model = rng.choice(others)
        kept = self._given.setdefault(model, [])
        number = next(
            (number for number, given in enumerate(kept) if part not in given),
            len(kept),
        )
        if number == len(kept):
            kept.append(set())
        kept[number].add(part)
        return _tag(model, 9001 + number)


def _tag(model: str, number: int) -> str:
    """The tag of a machine.

    >>> _tag("Tern 13", 42)
    'T13-0042'
    """
    name, _, size = model.partition(" ")
    return f"{name[0]}{size}-{number:04d}"


def _closing_time(rng: Random) -> str:
    """A moment within working hours: Monday to Friday 8:30 to 17:30, Saturday till 12:30, in UTC."""
    while True:
        day = FIRST_DAY + timedelta(days=rng.randint(0, (LAST_DAY - FIRST_DAY).days))
        if day.weekday() < 5 or (day.weekday() == 5 and rng.random() < 0.4):
            break
    hours = 9 if day.weekday() < 5 else 4
    opening = datetime(day.year, day.month, day.day, 8, 30, tzinfo=UTC)
    return stamp(opening + timedelta(seconds=rng.randrange(60 * 60 * hours)))
