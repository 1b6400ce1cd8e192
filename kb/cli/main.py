"""The commands of the core: read arguments, ask the bench, print; nothing is decided here."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from kb import __version__
from kb.bench.front import Bench
from kb.bench.jobs import Untested
from kb.cli import (
    checkout,
    completing,
    guide,
    json_contract,
    keeping,
    looking,
    machines,
    money,
    parts,
    past,
    settings,
    slips,
)
from kb.cli import text as printing
from kb.cli.options import (
    Commands,
    a_day,
    clock_agreed,
    clock_option,
    done,
    json_option,
    plain,
    say,
    shop_option,
    tell,
    warn_of_what_is_left_out,
)
from kb.history.intake import MOST_MINUTES
from kb.model import Confirmation

#: The least of an id by which something is taken back.
LEAST_OF_AN_ID = 4


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "-V", "--version", prog_name="benchlore")
@click.option("--shop", metavar="DIR", help="The shop's folder, for any command.")
@click.pass_context
def main(ctx: click.Context, shop: str | None) -> None:  # noqa: ARG001 - the commands read it from the context
    """Benchlore, the workshop's memory: type a symptom, get the likely causes and the next test."""
    if os.environ.get("NO_COLOR"):
        ctx.color = False


@main.command()
@click.argument("words", nargs=-1)
@click.option(
    "--model", "-m", default="", metavar="M", shell_complete=completing.models, help="The model on the bench."
)
@click.option("--limit", "-n", default=5, type=click.IntRange(1, 50), show_default=True, help="Entries to show.")
@click.option("--stdin", "from_stdin", is_flag=True, help="Read one query a line, print one JSON line each.")
@click.option("--rank-only", is_flag=True, help="With --stdin: the order of the entries alone, in a third of the time.")
@json_option
@shop_option
def search(
    bench: Bench, words: tuple[str, ...], *, model: str, limit: int, from_stdin: bool, rank_only: bool, as_json: bool
) -> None:
    """Rank the fault pictures that fit a symptom.

    Example: benchlore search "wont chrge, led orange" --model "Tern 13"
    """
    if from_stdin and words:
        raise click.UsageError("give either words or --stdin, which reads one query a line")
    if from_stdin:
        for line in sys.stdin.buffer:
            text = line.decode("utf-8", "replace").rstrip("\r\n")
            click.echo(json_contract.to_json(_told(bench, text, model, limit=limit, rank_only=rank_only)))
        warn_of_what_is_left_out(bench)
        return
    if rank_only:
        raise click.UsageError("--rank-only goes with --stdin, which reads one query a line")
    text = " ".join(words).strip()
    if not text:
        raise click.UsageError('say what is wrong, for example: benchlore search "no light when plugged in"')
    slips.note_new_model(bench, model)
    if meant := slips.forgotten_quotes(bench, words, model):
        say(slips.quotes_told(model, meant), err=True)
    answer = bench.asking.search(text, model, limit=limit)
    if as_json:
        click.echo(json_contract.to_json(json_contract.of_answer(answer, bench.health.left_out())))
    else:
        say("\n".join(printing.answer_lines(answer)))
    warn_of_what_is_left_out(bench)
    raise SystemExit(0 if answer.fits else 1)


def _told(bench: Bench, text: str, model: str, *, limit: int, rank_only: bool) -> dict[str, Any]:
    """What one line of standard input is answered with."""
    if rank_only:
        return json_contract.of_ranking(bench.asking.rank(text, model, limit=limit))
    return json_contract.of_answer(bench.asking.search(text, model, limit=limit), bench.health.left_out())


@main.command()
@click.argument("cause", metavar="ENTRY/CAUSE", shell_complete=completing.causes)
@click.option(
    "--model", "-m", required=True, metavar="M", shell_complete=completing.models, help="The model it was confirmed on."
)
@click.option("--unit", default="", metavar="TAG", help="The machine's tag.")
@click.option("--words", default="", metavar="TEXT", help="The complaint as it was typed.")
@click.option("--minutes", type=click.FloatRange(0, MOST_MINUTES), metavar="N", help="Bench minutes it took.")
@click.option("--part", default="", metavar="P", help="The part that was fitted.")
@click.option("--donor", default="", metavar="TAG", help="The machine the part came from.")
@click.option("--note", default="", metavar="TEXT", help="Anything worth knowing next time.")
@click.option("--by", default="", metavar="TEXT", help="Initials of whoever found it.")
@click.option(
    "--on", "day", default="", metavar="DAY", callback=a_day, help="The day it was found, YYYY-MM-DD, if not today."
)
@click.option("--untested", is_flag=True, help="Also where a test that the fix comes after is not on record.")
@click.option("--again", is_flag=True, help="Also where the same was saved of the same machine just now.")
@clock_option
@json_option
@shop_option
def confirm(
    bench: Bench,
    cause: str,
    *,
    day: str,
    untested: bool,
    again: bool,
    clock_is_right: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """Record that on a machine it was this cause.

    Example: benchlore confirm battery-not-detected/light-board --model "Tern 13" --minutes 12
    """
    agreed = clock_agreed(bench, clock_is_right)
    slips.note_new_model(bench, given["model"])
    closed_at = bench.jobs.noon(day) if day else ""
    confirmation = Confirmation(cause, closed_at=closed_at, **given)
    if not again:
        slips.refuse_a_double(bench, confirmation)
    try:
        receipt = bench.jobs.confirm(confirmation, untested=untested, clock_is_right=agreed)
    except Untested as error:
        raise click.UsageError(f"{error}; do that first, or add --untested if you know the reading") from error
    done(f"saved as job {receipt.job}")
    slips.note_unknown_part(given["part"])
    tell(json_contract.of_receipt(receipt), [f"saved as job {receipt.job}: {receipt.effect}"], as_json)


@main.command()
@click.argument("job", metavar="JOB")
@click.option("--why", required=True, metavar="TEXT", help="Why the confirmation was wrong.")
@click.option("--by", default="", metavar="TEXT", help="Initials of whoever says so.")
@click.option("--yes", is_flag=True, help="Without asking.")
@json_option
@shop_option
def retract(bench: Bench, job: str, *, why: str, by: str, yes: bool, as_json: bool) -> None:
    """Take a wrong confirmation, or a whole import, out of all numbers; the records of it stay.

    At a terminal it asks first. At least four characters of an id are needed.

    Example: benchlore retract 7kq2m9xw4tdc --why "it was the cable after all"
    """
    if len(job.strip()) < LEAST_OF_AN_ID:
        raise click.UsageError(
            f"give at least {LEAST_OF_AN_ID} characters of the job's id, so that it is the one meant"
        )
    imported = bench.past.find_import(job)
    if imported is not None:
        full, meant = imported.id, f"import {imported.id}: {len(bench.past.jobs_of(imported))} jobs"
    else:
        full = bench.history().full_id(job)
        meant = printing.job_line(bench.jobs.job(full))
    if not yes and sys.stdin.isatty():
        click.confirm(f"{plain(meant)}\nRetract this?", abort=True, err=True)
    if imported is not None:
        bench.past.take_back(imported, why, by)
    else:
        bench.jobs.retract(full, why, by)
    done(f"retracted: {meant}")
    tell({"job": full, "retracted": why}, [f"retracted: {meant}"], as_json)


@main.command()
@click.option(
    "--model", "-m", default="", metavar="M", shell_complete=completing.models, help="One model; all models without it."
)
@click.option(
    "--since",
    default="",
    metavar="DATE",
    callback=a_day,
    help="From this day on, as YYYY-MM-DD.",
)
@click.option(
    "--until",
    default="",
    metavar="DATE",
    callback=a_day,
    help="To the end of this day, as YYYY-MM-DD.",
)
@json_option
@shop_option
def review(bench: Bench, model: str, since: str, until: str, as_json: bool) -> None:
    """Show the most frequent failures, per model or of all, the parts to keep and the models compared.

    Example: benchlore review --model "Tern 13"
    """
    if since and until and since > until:
        raise click.UsageError("the day after --since comes later than the one after --until; swap them")
    seen = bench.looking_back.overview(model, since, until)
    found = seen.review
    if as_json:
        click.echo(json_contract.to_json(json_contract.of_overview(seen)))
    elif found.jobs:
        say("\n".join(printing.overview_lines(seen)))
    if not found.jobs:
        say(_no_jobs(model, bool(since or until), bench.asking.models()[:8]), err=True)
        raise SystemExit(1)


@main.command()
@click.argument("paths", nargs=-1, type=click.Path(exists=True, path_type=Path))
@json_option
@shop_option
def check(bench: Bench, paths: tuple[Path, ...], as_json: bool) -> None:
    """Name every problem in the entries, words and settings, with file, line and what to write instead.

    What begins with "wish" is no error but could be better; wishes alone end with 0.

    Example: benchlore check entries/battery-not-detected.md
    """
    if bare := [path for path in paths if path.is_dir() and not any(path.glob("*.md"))]:
        raise click.UsageError(f"there is no entry (*.md) in {bare[0]}; give a folder with entries, or a file")
    remarks = bench.entries.check(paths)
    wrong = [remark for remark in remarks if not remark.wish]
    if as_json:
        click.echo(json_contract.to_json([json_contract.of_remark(remark) for remark in remarks]))
    else:
        for remark in remarks:
            say(f"wish: {remark}" if remark.wish else str(remark))
        if not wrong:
            say("nothing to mend", err=True)
    raise SystemExit(1 if wrong else 0)


def _no_jobs(model: str, days: bool, models: Sequence[str]) -> str:
    """That a review is empty, and what to ask for in its place."""
    told = f"no closed jobs{' on ' + model if model else ''}{' in these days' if days else ''}"
    if not models:
        return f"{told}; confirm a fix at the bench, or import jobs"
    return f"{told}; choose {'other days, or ' if days else ''}a model that was here, such as {', '.join(models)}"


for command in (
    guide.guide,
    checkout.checkout,
    keeping.export,
    past.import_,
    keeping.backup,
    keeping.restore,
    keeping.verify,
    settings.settings,
    settings.tools,
    machines.intake,
    machines.unit,
    machines.lot,
    machines.labels,
    money.cost,
    parts.parts,
    parts.pile,
    looking.show,
    looking.list_,
    looking.jobs,
    looking.new,
    looking.undo,
    looking.help_,
):
    main.add_command(command)
