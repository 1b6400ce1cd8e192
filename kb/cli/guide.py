"""The guide at the terminal: one step at a time, answered by one key, until the machine works."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Collection, Iterator, Sequence
from typing import TYPE_CHECKING, Any

import click

from kb.cli import completing, hand, json_contract, slips
from kb.cli import text as printing
from kb.cli.options import (
    Figure,
    clock_agreed,
    clock_option,
    done,
    say,
    shop_option,
    shop_told,
    warn_of_what_is_left_out,
)
from kb.cli.phrases import if_any

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.bench.jobs import Standing
    from kb.bench.parts import TurnedOut
    from kb.diagnosis.answer import CauseBelief, Loss, Step
    from kb.history.jobs import OpenJob

#: What each key does besides the numbers of the outcomes.
KEYS = {
    "n": "not possible here",
    "u": "unclear",
    "b": "take the last answer back",
    "c": "it was one of these causes",
    "q": "leave; the job stays open",
}

#: Why a part did not help, in the order of the keys that say so.
REASONS: tuple[TurnedOut, ...] = ("did not fit", "was dead", "not the cause")

#: The likeliest causes named before each step.
CAUSES_SHOWN = 4

#: What a terminal sends for Ctrl-C and for Ctrl-D while it hands over single keys.
INTERRUPT, END = "\x03", "\x04"
#: The exit status of a program ended by Ctrl-C, as shells tell it: 128 and the number of the signal.
INTERRUPTED = 130


class Left(Exception):
    """The guide is left and the job stays open; `status` is the exit status."""

    def __init__(self, status: int = 0) -> None:
        super().__init__("left")
        self.status = status


@click.command()
@click.argument("words", nargs=-1)
@completing.model_option("The model on the bench.")
@click.option("--unit", default="", metavar="TAG", help="The machine's tag.")
@click.option(
    "--job",
    default="",
    metavar="JOB",
    help="Go on with an open job; without words, with the last one.",
)
@click.option(
    "--another",
    is_flag=True,
    help="With --unit: another fault than that of the machine's open job.",
)
@clock_option
@click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="Print the job and its next step as JSON, and ask nothing.",
)
@shop_option
def guide(
    bench: Bench,
    words: tuple[str, ...],
    *,
    model: str,
    unit: str,
    job: str,
    another: bool,
    clock_is_right: bool,
    as_json: bool,
) -> None:
    """Ask test by test, the one that saves most minutes first, and end in the confirmation.

    Example: benchlore guide "no light when plugged in" --model "Tern 13"
    """
    if meant := slips.forgotten_quotes(bench, words, model):
        raise click.UsageError(f"{slips.quotes_told(model, meant)}; no job was opened")
    agreed = clock_agreed(bench, clock_is_right)
    model = slips.model_meant(bench, model)
    if not (job or another):
        slips.refuse_a_misread_tag(bench, unit)
        slips.refuse_a_second_job(bench, unit)
    name = _job(bench, " ".join(words).strip(), model, unit, job)
    done(f"job {name} stays open (benchlore guide --job {name} goes on with it)")
    if as_json:
        click.echo(
            json_contract.to_json(json_contract.of_standing(bench.jobs.standing(name)))
        )
        return
    say(f"job {name}; a key alone answers, q leaves")
    warn_of_what_is_left_out(bench)
    try:
        _asked(bench, name, agreed)
    except (Left, KeyboardInterrupt) as left:
        say(
            f"\njob {name} stays open; go on with: benchlore guide --job {name}{shop_told(bench)}"
        )
        raise SystemExit(
            left.status if isinstance(left, Left) else INTERRUPTED
        ) from None


def _asked(bench: Bench, job: str, clock_is_right: bool) -> None:
    """Ask step after step until the cause is confirmed; raises Left, or KeyboardInterrupt after Ctrl-C."""
    shown: set[str] = set()
    told: set[str] = set()
    asking, other = True, ""
    beside = bench.parts.at_once_beside(bench.jobs.job(job))
    while asking:
        standing = bench.jobs.standing(job, limit=3)
        if standing.answer.two and not other:
            followed, other = standing.answer.two
            say(
                f"Two things are told here: {followed} is followed first, come back for {other}."
            )
        at_once = (*standing.answer.at_once, *beside)
        fresh = dict.fromkeys(deed for deed in at_once if deed not in told)
        for line in printing.urgent_lines([*fresh]):
            say(line)
        told.update(at_once)
        for line in _lines(standing, bench, shown):
            say(line)
        asking = _answered(bench, job, standing, clock_is_right)
    if other:
        _tell_of_the_other(bench, bench.jobs.job(job), other)


def _tell_of_the_other(bench: Bench, done_with: OpenJob, other: str) -> None:
    """Say how to go on with the second thing that was told, unless it was that which was found."""
    found, entry = done_with.closed, bench.entries.entry(other)
    if found is None or entry is None or found.cause.startswith(f"{other}/"):
        return
    tag = if_any(" --unit {}", found.unit and shlex.quote(found.unit))
    say(
        f"The words told of a second thing, {other}: if it is still there, "
        f"benchlore guide {shlex.quote(entry.title)} --model {shlex.quote(found.model)}{tag}{shop_told(bench)}"
    )


def _job(bench: Bench, words: str, model: str, unit: str, job: str) -> str:
    """The job to work on: the named one, the last open one, or a new one for the words."""
    if job:
        return bench.history().full_id(job)
    if words:
        return bench.jobs.begin(words, model or slips.model_if_known(bench, unit), unit)
    waiting = bench.jobs.open_jobs()
    if not waiting:
        raise click.UsageError(
            'say what is wrong, for example: benchlore guide "no light when plugged in"'
        )
    return waiting[0].job


def _lines(standing: Standing, bench: Bench, shown: set[str]) -> Iterator[str]:
    """What is believed, the cautions and the order of the step that were not told yet, and the step."""
    answer, step = standing.answer, standing.answer.next_step
    yield ""
    for cause in _causes(standing)[:CAUSES_SHOWN]:
        yield f"  {printing.share(cause.probability)}  {cause.cause}: {cause.name}"
    if answer.something_else >= 0.05:
        yield f"  {printing.share(answer.something_else)}  something else"
    if step is None:
        return
    fresh = [note for note in _notes(step, bench, shown) if note not in shown]
    order = [one for one in step.procedure if one not in shown]
    shown.update((*fresh, *order, step.entry))
    if fresh:
        yield ""
        yield "Before you start:"
        yield from (f"  ! {note}" for note in fresh)
    yield ""
    yield from printing.procedure_lines(order)
    yield from _step_lines(step, answer.loss)
    yield from (
        f"  {line}"
        for line in hand.step_lines(bench, step, answer.model, standing.job.unit)
    )


def _notes(step: Step, bench: Bench, shown: Collection[str]) -> tuple[str, ...]:
    """The cautions of a step; all notes of its sheet with them when that comes up for the first time."""
    notes = list(step.cautions)
    if step.entry and step.entry not in shown:
        entry = bench.entries.entry(step.entry)
        notes += entry.safety if entry else ()
    return tuple(dict.fromkeys(notes))


def _step_lines(step: Step, loss: Loss | None) -> Iterator[str]:
    yield f"{step.title} ({printing.facts(step)})"
    if step.cause:
        yield f"  For: {step.cause}"
    yield from (f"  {line}" for line in printing.held_lines(step))
    if detail := _beyond(step.title, step.detail):
        yield f"  {detail}"
    yield f"  Why: {step.why}. Expected until it works: {step.expected_minutes:.0f} min."
    yield from (f"  {line}" for line in printing.lacking_lines(step, loss))
    for number, outcome in enumerate(_outcomes(step), 1):
        yield f"  {number}  {outcome}"
    yield "  " + ", ".join(f"{key} {meaning}" for key, meaning in KEYS.items())


def _beyond(title: str, detail: str) -> str:
    """What a detail says beyond the title that it begins with.

    >>> _beyond("Fit a pack", "fit a pack. Afterwards: charge it"), _beyond("Fit a pack", "Pull the plug first")
    ('Afterwards: charge it', 'Pull the plug first')
    """
    repeats = detail.casefold().startswith(title.casefold())
    return detail[len(title) :].lstrip(" .,;:") if repeats else detail


def _outcomes(step: Step) -> tuple[str, ...]:
    """What a step may show, in the order of its keys."""
    return (
        tuple(step.outcomes) if step.kind == "test" else ("it works now", "no change")
    )


def _answered(bench: Bench, job: str, standing: Standing, clock_is_right: bool) -> bool:
    """Take one key; false when there is nothing more to ask. Raises Left for the key that leaves."""
    from kb.model import Finding

    step = standing.answer.next_step
    if step is None or step.kind == "else":
        say(
            "Nothing listed here explains it any more. Find out what it was and write it down as an entry."
        )
        raise SystemExit(1)
    key = _known_key(step)
    if key == "q":
        raise Left
    if key == "c":
        return not _confirmed(bench, standing, None, clock_is_right)
    if key == "b":
        _take_back(bench, standing)
    elif key in ("n", "u"):
        _set_aside(bench, job, step)
    elif step.kind == "test":
        bench.jobs.found(
            job, Finding(f"{step.entry}/{step.name}", step.outcomes[int(key) - 1])
        )
    elif key == "1":
        return not _confirmed(bench, standing, step, clock_is_right)
    else:
        bench.jobs.did_not_help(job, f"{step.entry}/{step.name}")
        _ask_of_part(bench, job)
    return True


def _ask_of_part(bench: Bench, job: str) -> None:
    """Ask what was wrong with the donor's part that was fitted in vain, if one was."""
    from kb.bench.doubts import in_doubt, settled

    doubt = in_doubt(bench, bench.jobs.job(job))
    if doubt is None:
        return
    say(
        f"the {doubt.part} from {doubt.donor} did not help; 1 it did not fit, 2 it was dead, 3 it was not the cause"
    )
    choice = _number("what was it (0: not known)", click.IntRange(0, len(REASONS)), 0)
    if choice:
        settled(bench, job, REASONS[choice - 1])


def _set_aside(bench: Bench, job: str, step: Step) -> None:
    """Set a test aside for this job; a step that the shop cannot do rules nothing out and waits for its tool."""
    if step.lacks:
        say(
            f"it cannot be done here without: {', '.join(step.lacks)}; q leaves the job open until then"
        )
    elif step.kind == "test":
        bench.jobs.could_not_do(job, f"{step.entry}/{step.name}")
        if step.held:
            say(
                "it cannot be left out: do it as far as it goes and say what it shows; q leaves the job open until then"
            )
    else:
        bench.jobs.did_not_help(job, f"{step.entry}/{step.name}")


def _take_back(bench: Bench, standing: Standing) -> None:
    """Undo the latest answer of this job, whatever it was."""
    job = standing.job
    noted = [
        *(found.record for found in job.findings),
        *(failed.record for failed in job.failed_fixes),
    ]
    if standing.job.skipped:
        bench.jobs.could_not_do(job.job, standing.job.skipped[-1], skip=False)
    elif noted:
        bench.jobs.take_back(job.job, noted[-1])
    else:
        say("there is nothing to take back", err=True)


def _confirmed(
    bench: Bench, standing: Standing, step: Step | None, clock_is_right: bool
) -> bool:
    """Fill the confirmation in, let the person correct it, save it; false if they think again."""
    from kb.bench.jobs import Untested
    from kb.history.intake import MOST_MINUTES
    from kb.model import Confirmation

    causes = _causes(standing)
    if step is not None:
        causes = [cause for cause in causes if _cured(bench, cause, step)]
    cause = _chosen(causes)
    if cause is None:
        return False
    missing = bench.jobs.untested(cause.cause, standing.job.job)
    if missing:
        say(f"{Untested(cause.cause, missing)}.")
        if not click.confirm("do you know it without"):
            return False
    model = standing.job.model or _prompt("model")
    likely = round(standing.minutes or 0) or cause.fix_minutes
    minutes = _number("bench minutes", Figure(0, MOST_MINUTES), likely)
    part, donor = _part_fitted(
        bench, bench.entries.parts_for(cause.cause), standing.job.unit
    )
    given = Confirmation(
        cause.cause, model, standing.job.job, minutes=minutes, part=part, donor=donor
    )
    agreed = clock_agreed(bench, clock_is_right)
    receipt = bench.jobs.confirm(given, untested=bool(missing), clock_is_right=agreed)
    done(f"saved as job {receipt.job}")
    say(f"saved as job {receipt.job}: {receipt.effect}")
    return True


def _chosen(causes: Sequence[CauseBelief]) -> CauseBelief | None:
    """Which of the causes it was, as the person says; None if it was none of them."""
    for number, cause in enumerate(causes, 1):
        say(f"  {number}  {cause.cause}: {cause.name}")
    # Enter alone takes the only cause there is; among several it may be left over from the key before.
    usual = 1 if len(causes) == 1 else None
    choice = _number(
        "which one was it (0: none of these)", click.IntRange(0, len(causes)), usual
    )
    return causes[choice - 1] if choice else None


def _part_fitted(bench: Bench, parts: Sequence[str], tag: str) -> tuple[str, str]:
    """The part that is fitted and the donor it came from; what came for the machine is proposed."""
    from kb.bench.at_hand import came_for

    came = came_for(bench, parts, tag)
    asked = f"part (that from {came.donor})" if came.donor else "part"
    part = _prompt(asked, default=came.part or ", ".join(parts), show_default=True)
    return part, came.donor if part == came.part else ""


def _cured(bench: Bench, cause: CauseBelief, step: Step) -> bool:
    fix = bench.entries.fix(f"{step.entry}/{step.name}")
    causes = fix.causes if fix else (step.name,)
    return cause.cause in [f"{step.entry}/{cured}" for cured in causes]


def _causes(standing: Standing) -> list[CauseBelief]:
    found = [cause for entry in standing.answer.entries for cause in entry.causes]
    return sorted(found, key=lambda cause: (-cause.probability, cause.cause))


def _number(text: str, kind: click.IntRange | Figure, default: float | None) -> Any:
    """The number that is typed in answer to a question; raises Left for the key that leaves."""

    def read(typed: Any) -> Any:
        if str(typed).strip().lower() == "q":
            raise Left
        try:
            return kind.convert(typed, None, None)
        except click.BadParameter:
            least, most = kind.min or 0, kind.max or 0
            raise click.BadParameter(
                f"`{typed}` is none; type a number from {least:g} to {most:g}, or q to leave"
            ) from None

    return _prompt(text, value_proc=read, default=default)


def _prompt(text: str, **more: Any) -> Any:
    """What is typed in answer to a question; raises KeyboardInterrupt after Ctrl-C, Left at the end of the input."""
    try:
        return click.prompt(text, **more)
    except click.Abort as abort:
        if isinstance(abort.__context__, KeyboardInterrupt):
            raise KeyboardInterrupt from None
        raise Left(status=1) from None  # what was begun is not saved


def _known_key(step: Step) -> str:
    """The next key that means something at this step; any other is told, and the step is not shown again."""
    numbers = [str(number) for number, _ in enumerate(_outcomes(step), 1)]
    while (key := _key()) not in (*numbers, *KEYS):
        say(
            f"`{key}` is none of the keys; type one of {', '.join((*numbers, *KEYS))}",
            err=True,
        )
    return key


def _key() -> str:
    """One key at a terminal; from a pipe the first sign of a line. Enter and blanks alone are passed over.

    Raises Left when there is nothing more to read, KeyboardInterrupt after Ctrl-C.
    """
    while True:
        typed = _typed()
        key = typed.strip().lower()[:1]
        if not typed or key == END:
            raise Left
        if key == INTERRUPT:
            raise KeyboardInterrupt
        if key:
            return key


def _typed() -> str:
    """What is typed next, shown again as it is not shown by a terminal that hands over keys; empty at the end."""
    if not sys.stdin.isatty():
        return sys.stdin.readline()
    try:
        typed = click.getchar()
    except EOFError:
        return ""
    if typed.strip():
        say(f"> {typed.strip()[:1].lower()}")
    return typed
