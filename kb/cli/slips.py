"""Slips of the hand, each told in one line before it becomes history, or with the saving."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import click

from kb.base.trouble import NotThere
from kb.cli.options import plain, say
from kb.cli.phrases import if_any

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.history.jobs import OpenJob
    from kb.library.customs import Customs
    from kb.model import Confirmation


def note_new_model(bench: Bench, model: str) -> None:
    """Say on standard error that no job was on this model yet, as after a slip of the hand."""
    if told := bench.asking.new_model(model):
        say(told, err=True)


def model_meant(bench: Bench, model: str) -> str:
    """The model that is meant: at a terminal one that is new and near a known one is asked about.

    Elsewhere it is only said on standard error that no job was on it yet.
    """
    near = bench.asking.near_model(model) if sys.stdin.isatty() else ""
    if near and click.confirm(
        f"no job was on {plain(model)} yet; is it {plain(near)}?",
        default=True,
        err=True,
    ):
        return near
    if not near:
        note_new_model(bench, model)
    return model


def forgotten_quotes(bench: Bench, words: Sequence[str], model: str) -> str:
    """The model that was meant where its second word went to the complaint, empty if all is well.

    What was typed as --model Tern 13 arrives as the model "Tern" and the word "13".
    """
    known = bench.asking.models() if model and len(words) > 1 else []
    if bench.asking.spelt(model) in known:
        return ""
    meant = [bench.asking.spelt(f"{model} {word}") for word in words]
    return next((one for one in meant if one in known), "")


def quotes_told(model: str, meant: str) -> str:
    """That a model was read without its second word, and how it is written."""
    return f'the model was read as "{model}"; if {meant} is meant, put it in quotes: --model "{meant}"'


def open_job(bench: Bench, job: str, unit: str) -> OpenJob:
    """The open job that is named; raises UsageError for one that is closed, or of another machine than `unit`."""
    from kb.history.intake import tag_key  # the help of a search need not wait for it

    full = bench.history().full_id(job)
    state = bench.jobs.job(full)
    if state.closed:
        raise click.UsageError(
            f"job {full} is closed already; leave out --job to save another one"
        )
    if unit.strip() and state.unit.strip() and tag_key(unit) != tag_key(state.unit):
        raise click.UsageError(
            f"job {full} is of {state.unit} and not of {unit.strip()}; give the tag that is meant"
        )
    return state


def model_of(bench: Bench, unit: str) -> str:
    """The model of the machine of that tag; raises UsageError where nobody has told it."""
    model = model_if_known(bench, unit)
    if not model:
        raise click.MissingParameter(param_hint="--model", param_type="option")
    return model


def model_if_known(bench: Bench, unit: str) -> str:
    """The model of the machine of that tag, empty where nobody has told it."""
    from kb.history.units import is_unknown  # the help of a search need not wait for it

    line = bench.machines.line(unit) if unit.strip() else None
    return "" if line is None or is_unknown(line.model) else line.model


def refuse_a_second_job(bench: Bench, unit: str) -> None:
    """Raise UsageError, with what goes on with it, where a machine has an open job already."""
    there = bench.machines.open_jobs(unit) if unit.strip() else ()
    if there:
        words = if_any(": {}", there[0].words)
        raise click.UsageError(
            f"job {there[0].job} is open on {there[0].unit} already{words}; go on with --job {there[0].job}, "
            "or add --another if this is another fault"
        )


def refuse_a_misread_tag(bench: Bench, tag: str) -> None:
    """Raise NotThere for a tag that no machine has and that is read like one of a machine here: P7-01O for P7-010."""
    from kb.bench.machines import read_alike

    if not tag.strip() or bench.machines.line(tag):
        return
    if alike := read_alike(tag, (one.line.tag for one in bench.machines.units())):
        raise NotThere(
            f"no machine has the tag {tag.strip()[:60]}; did you mean `{'`, `'.join(alike[:3])}`? "
            "If it is another machine, take it in first"
        )


def part_fitted(bench: Bench, cause: str, given: Mapping[str, Any]) -> dict[str, str]:
    """The part and the donor to save: as they were given, else what came for the machine, which is said."""
    part, donor = given["part"], given["donor"]
    if part is not None or not given["unit"]:
        return {"part": part or "", "donor": donor}
    # what a confirmation without a machine need not load
    from kb.bench.at_hand import came_for

    came = came_for(bench, bench.entries.parts_for(cause), given["unit"])
    if came.part:
        source = if_any(" from {}", came.donor)
        say(
            f'the {came.part}{source} that came for {given["unit"]} counts as fitted; --part "" if not',
            err=True,
        )
    return {"part": came.part, "donor": donor or came.donor}


def note_open_jobs(bench: Bench, unit: str) -> None:
    """Say on standard error which jobs are still open on a machine, with what ends them."""
    for job in bench.machines.open_jobs(unit):
        words = if_any(": {}", job.words)
        say(
            f"job {job.job} is still open on {job.unit}{words}; what ends it is confirmed with --job {job.job}",
            err=True,
        )


def note_unknown_part(part: str, customs: Customs) -> None:
    """Say on standard error that a part has no such spelling here, with the nearest; it is saved as it was typed."""
    from kb.language.nearest import nearest
    from kb.library.trade import OWN

    trade = customs.trade()
    if not part.strip() or trade.spelled(part):
        return
    near = nearest(part, trade.parts)
    instead = f"did you mean `{near}`?" if near else "it is counted under that name"
    own = f'If it is one of yours, name it in entries/house/{OWN} of the shop: parts = ["{part.strip()[:60]}"]'
    say(f"no sheet knows a part `{part.strip()[:60]}`; {instead}. {own}", err=True)


def refuse_an_unknown_lot(bench: Bench, lot: str) -> None:
    """Raise NotThere, with the lots there are, for one that no machine came in; an empty name is of none."""
    from kb.machines.lots import lot_key

    here = [one.name for one in bench.machines.lots()] if lot.strip() else []
    if lot.strip() and lot_key(lot) not in map(lot_key, here):
        known = (
            f"lots here: {', '.join(here[:8])}"
            if here
            else "none came yet; benchlore intake takes one in"
        )
        raise NotThere(f"no machine came in a lot {lot.strip()[:60]}; {known}")


def refuse_an_unknown_tag(bench: Bench, tag: str) -> None:
    """Raise NoMachine, with the tag that was meant, for one that no record names and a near one: P7-1 for P7-001."""
    from kb.bench.machines import NoMachine, misread

    if bench.machines.line(tag):
        return
    if near := misread(tag, (one.line.tag for one in bench.machines.units())):
        raise NotThere(f"{NoMachine(tag)}; did you mean `{'`, `'.join(near[:3])}`?")
    raise NoMachine(tag)


def refuse_a_double(bench: Bench, given: Confirmation) -> None:
    """Raise ClickException if the same was saved of the same machine just now; one without a tag may be another."""
    from kb.bench.doubles import just_saved

    if given.unit.strip() and (saved := just_saved(bench, given)):
        told = f"{saved.cause} on {saved.unit} was saved just now as job {saved.job}; nothing was saved again"
        raise click.ClickException(f"{told}. If it was found twice, add --again")
