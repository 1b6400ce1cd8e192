"""Onward with one machine: the step of its job, the line of its check-out or the part that comes next, and how."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.base.trouble import NotThere
from kb.bench.machines import Machine
from kb.bench.parts import in_all_words
from kb.machines.units import NextStep, complaint_of, is_unknown

if TYPE_CHECKING:
    from kb.bench.front import Bench


@dataclass(frozen=True, slots=True, kw_only=True)
class Onward:
    """What comes next on a machine: in words, in so many hands-on `minutes` where that is known, for a job or a line.

    `command` are the words after `benchlore` that go on with it; `before` what is to be done at once and the cautions
    of the step, which are said before it.
    """

    what: str
    command: tuple[str, ...]
    minutes: float | None = None
    job: str = ""
    line: str = ""
    before: tuple[str, ...] = ()


def onward(bench: Bench, machine: Machine) -> Onward | None:
    """What comes next on that machine, as its state has it; None where nothing does, or only to hand it over."""
    match machine.stands.step:
        case NextStep.GO_ON:
            return _in_its_job(bench, machine)
        case NextStep.DIAGNOSE:
            return _to_the_fault(bench, machine)
        case NextStep.LOOK | NextStep.CHECK_OUT:
            return _on_its_check_out(bench, machine)
        case NextStep.PART:
            return _for_its_part(machine)
        case _:
            return None


def _in_its_job(bench: Bench, machine: Machine) -> Onward:
    """The next step of its open job, the first of several; what came for it is fitted before."""
    job, todo = machine.unit.open_jobs[0].job, machine.stands.todo
    command = ("guide", "--job", job)
    standing = bench.jobs.standing(job)
    answer = standing.answer
    at_once = in_all_words(bench.parts.at_once(machine.stands))
    step = answer.next_step if answer.fits or standing.job.is_begun else None
    if machine.stands.line.to_fit or step is None:
        return Onward(what=todo, command=command, job=job, before=at_once)
    before = (*at_once, *step.cautions)
    return Onward(
        what=step.title, minutes=step.minutes, command=command, job=job, before=before
    )


def _to_the_fault(bench: Bench, machine: Machine) -> Onward:
    """The search for what is wrong with it, with its own words, or the lines that failed; first what cannot wait."""
    unit = machine.unit
    words = complaint_of(machine.stands.line) or ", ".join(
        machine.stands.line.failed_lines
    ).replace("-", " ")
    model = () if is_unknown(unit.model) else ("--model", unit.model)
    told = bench.parts.answer(machine.stands)
    before = told.at_once if told else ()
    return Onward(
        what=machine.stands.todo,
        command=("guide", words, *model, "--unit", unit.tag),
        before=before,
    )


def _on_its_check_out(bench: Bench, machine: Machine) -> Onward | None:
    """The line that its check-out has next, or its signature; None where the shop has no list."""
    tag = machine.unit.tag
    try:
        check_out = bench.checkout.of(tag)
    except (NotThere, OSError):
        return None
    command = ("checkout", tag)  # what it showed is for whoever looked to say
    todo = check_out.next_line
    if todo is None:
        return Onward(what=machine.stands.todo, command=command)
    return Onward(
        what=todo.line.text,
        minutes=todo.line.minutes,
        command=command,
        line=todo.line.name,
    )


def _for_its_part(machine: Machine) -> Onward:
    """Who has the part that it has waited for longest."""
    wanted = machine.unit.wanted[0]
    return Onward(
        what=machine.stands.todo,
        command=("parts", wanted.part, "--for", machine.unit.tag),
    )
