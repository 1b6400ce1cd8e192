"""The work that a review counts: closed jobs as the index has them, and jobs put away without a cause."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from kb.history import History
from kb.history.intake import tag_key
from kb.history.units import is_unknown
from kb.index.jobs import JobTable, Works, machine_key
from kb.review.period import ALWAYS, Period
from kb.review.reach import WorkingDays

#: No machine has come in.
NOBODY: Mapping[str, str] = {}


def model_of(model: str, unit: str, came_in: Mapping[str, str]) -> str:
    """The model of a job: what was told with it, or where that was not known yet, what its machine turned out to be.

    `came_in` gives the models of machines by their folded tags.

    >>> model_of("unknown", "P7 - 012", {"p7-012": "Tern 13"}), model_of("Skua 14", "P7-012", {"p7-012": "Tern 13"})
    ('Tern 13', 'Skua 14')
    """
    return came_in.get(tag_key(unit), model) if is_unknown(model) else model


def works(
    jobs: JobTable,
    came_in: Mapping[str, str] = NOBODY,
    period: Period = ALWAYS,
    *,
    causes: Collection[str] | None = None,
    models: Collection[str] | None = None,
) -> Works:
    """The jobs closed within the period, each under the model that its machine turned out to be.

    Of all, or of those under some causes, or told of some models.
    """
    found = jobs.closed(period.begin, period.end, causes=causes, models=models)
    return turned_out(found, came_in)


def turned_out(found: Works, came_in: Mapping[str, str]) -> Works:
    """The jobs, each under the model that its machine turned out to be."""
    unknown = {model for model in set(found.models) if is_unknown(model)}
    if not unknown:
        return found
    models, machines = list(found.models), list(found.machines)
    for place, model in enumerate(models):
        tag = _tag_of(machines[place], model) if model in unknown else ""
        if tag in came_in:
            models[place] = came_in[tag]
            machines[place] = machine_key(came_in[tag], tag, "")
    return replace(found, models=models, machines=machines)


def _tag_of(machine: str, model: str) -> str:
    """The folded tag in what tells a machine of that model from others, empty if it has none."""
    before = machine_key(model, "?", "").removesuffix("?")
    return machine.removeprefix(before) if machine.startswith(before) else ""


def working_days(jobs: JobTable) -> list[WorkingDays]:
    """The days (UTC) on which jobs of the shop were closed, first one first."""
    return [WorkingDays(*day) for day in jobs.days()]


def days_of(everything: Works) -> list[WorkingDays]:
    """The same, told by the jobs themselves where all of them are at hand.

    >>> days_of(Works(closed_at=["2026-03-01T09:00:00Z", "2026-03-01T16:00:00Z", "2026-03-04T10:00:00Z"]))[0]
    WorkingDays(first='2026-03-01T09:00:00Z', last='2026-03-01T16:00:00Z', jobs=2)
    """
    times = everything.closed_at
    days: list[WorkingDays] = []
    begin = 0
    while begin < len(times):
        end = bisect_right(times, times[begin][:10], begin, key=lambda time: time[:10])
        days.append(WorkingDays(times[begin], times[end - 1], end - begin))
        begin = end
    return days


@dataclass(frozen=True, slots=True)
class PutAway:
    """A job that left the bench without a cause: its machine and complaint, why it was put away and when (UTC)."""

    job: str
    model: str
    machine: str
    words: str
    why: str
    at: str


def put_away(
    history: History, came_in: Mapping[str, str] = NOBODY, period: Period = ALWAYS
) -> tuple[PutAway, ...]:
    """The jobs put away within the period, in that order, each under the model that its machine turned out to be."""
    found = []
    for record in history.records_since(0, "retract"):
        if not period.holds(record.at):
            continue
        job = history.job_state(record.job)
        if job.closed is None:
            model = model_of(job.model, job.unit, came_in)
            key = machine_key(model, job.unit, job.job)
            found.append(
                PutAway(job.job, model, key, job.words, job.retracted, record.at)
            )
    return tuple(found)
