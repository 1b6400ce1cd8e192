"""Doubts about a part whose fix did not help: it did not fit, was dead, or was not the cause, which is asked once."""

from __future__ import annotations

from dataclasses import dataclass

from kb.base.trouble import Refusal
from kb.base.worded import worded
from kb.bench.front import Bench
from kb.bench.parts import TurnedOut
from kb.history.ids import token_beside
from kb.history.jobs import OpenJob
from kb.history.units import Moved, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class PartInDoubt:
    """A part that was fitted with a fix that did not help: which, from which donor, and the failed fix's record."""

    part: str
    donor: str
    failed: str


def in_doubt(bench: Bench, job: OpenJob) -> PartInDoubt | None:
    """The part of a job's newest failed fix of which nobody has said yet what was wrong with it, None if there is none.

    Only a part that a donor gave for this machine before the fix was tried is asked for.
    """
    parts = _fitted_in_vain(bench, job)
    line = bench.machines.line(job.unit) if parts else None
    if line is None:
        return None
    unit, failed = bench.machines.unit(line.tag), job.failed_fixes[-1]
    tries = [
        one.seq for one in unit.work if (one.job, one.fix) == (job.job, failed.fix)
    ]
    tried = max(tries, default=0)
    for moved in reversed(_taken_for(unit)):
        was_fitted = moved.part in parts and moved.seq < tried
        if was_fitted and not _is_answered(bench, moved.part, job.job):
            return PartInDoubt(part=moved.part, donor=moved.donor, failed=failed.record)
    return None


def _fitted_in_vain(bench: Bench, job: OpenJob) -> tuple[str, ...]:
    """The parts that the newest failed fix of a machine's job asks for."""
    if not job.failed_fixes or not job.unit.strip():
        return ()
    return bench.entries.parts_for(job.failed_fixes[-1].fix)


def _taken_for(unit: Unit) -> list[Moved]:
    """The parts that were taken out of donors for a machine and were not found dead, in order."""
    return [one for one in unit.taken if one.good != "no" and not one.job]


def settled(
    bench: Bench, job: str, shown: TurnedOut, why: str = "", token: str = ""
) -> None:
    """Write down what was wrong with the part in doubt of a job.

    One that did not fit or was dead leaves the cause open: the fix counts as not tried, and the machine waits for
    another part. Refusal if no part of the job is in doubt.
    """
    history = bench.history()
    with history.together():
        state = bench.jobs.job(job)
        if history.written_with(token):
            return
        doubt = in_doubt(bench, state)
        if doubt is None:
            raise Refusal(
                worded(
                    "no part that was fitted on this job is in doubt; say it on the machine's page"
                )
            )
        bench.parts.turned_out(
            doubt.part, state.unit, shown, why, token, source=_source(state.job)
        )
        if shown != "not the cause":
            bench.jobs.take_back(state.job, doubt.failed, token_beside(token, "back"))


def _source(job: str) -> str:
    return f"job {job}"


def _is_answered(bench: Bench, part: str, job: str) -> bool:
    """Whether a try of that part tells that it was made on the job."""
    return any(
        one.source == _source(job) for one in bench.parts.told().tries.get(part, ())
    )
