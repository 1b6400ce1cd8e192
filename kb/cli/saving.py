"""The commands for saving what was found, and for taking it back."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import click

from kb.base.clock import WORKING_MONTH
from kb.cli import completing, json_contract, slips
from kb.cli import text as printing
from kb.cli.options import (
    Figure,
    a_day,
    clock_agreed,
    clock_option,
    done,
    json_option,
    plain,
    shop_option,
    tell,
)

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.bench.jobs import Receipt
    from kb.model import Confirmation


#: The least of an id by which something is taken back.
LEAST_OF_AN_ID = 4


@click.command()
@click.argument("cause", metavar="ENTRY/CAUSE", shell_complete=completing.causes)
@completing.model_option(
    "The model it was confirmed on; that of --unit or --job without it."
)
@click.option("--unit", default="", metavar="TAG", help="The machine's tag.")
@click.option("--job", default="", metavar="JOB", help="The open job that this ends.")
@click.option(
    "--words", default="", metavar="TEXT", help="The complaint as it was typed."
)
@click.option(
    "--minutes",
    type=Figure(0, WORKING_MONTH),
    metavar="N",
    help="Bench minutes it took.",
)
@click.option(
    "--part",
    metavar="P",
    help="The part that was fitted; one that came for --unit without it.",
)
@click.option(
    "--donor", default="", metavar="TAG", help="The machine the part came from."
)
@click.option(
    "--note", default="", metavar="TEXT", help="Anything worth knowing next time."
)
@click.option("--by", default="", metavar="TEXT", help="Initials of whoever found it.")
@click.option(
    "--on",
    "day",
    default="",
    metavar="DAY",
    callback=a_day,
    help="The day it was found, YYYY-MM-DD, if not today.",
)
@click.option(
    "--untested",
    is_flag=True,
    help="Also where a test that the fix comes after is not on record.",
)
@click.option(
    "--again",
    is_flag=True,
    help="Also where the same was saved of the same machine just now.",
)
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
    # the shell that completes a cause need not wait for it
    from kb.model import Confirmation

    cause, agreed = cause.casefold(), clock_agreed(bench, clock_is_right)
    slips.refuse_a_misread_tag(bench, given["unit"])
    if given["job"].strip():
        given |= _of_open_job(bench, given)
    given["model"] = given["model"] or slips.model_of(bench, given["unit"])
    given["model"] = slips.model_meant(bench, given["model"])
    given |= slips.part_fitted(bench, cause, given)
    closed_at = bench.jobs.noon(day) if day else ""
    confirmation = Confirmation(cause, closed_at=closed_at, **given)
    if not again:
        slips.refuse_a_double(bench, confirmation)
    receipt = _saved(bench, confirmation, untested, agreed)
    done(f"saved as job {receipt.job}")
    slips.note_unknown_part(given["part"], bench.shop.customs)
    slips.note_open_jobs(bench, given["unit"])
    tell(
        json_contract.of_receipt(receipt),
        [f"saved as job {receipt.job}: {receipt.effect}"],
        as_json,
    )


def _saved(
    bench: Bench, given: Confirmation, untested: bool, clock_is_right: bool
) -> Receipt:
    """Save it; raises UsageError, saying how to save it all the same, before a test that the fix comes after."""
    # the shell that completes a cause need not wait for it
    from kb.bench.jobs import Untested

    try:
        return bench.jobs.confirm(
            given, untested=untested, clock_is_right=clock_is_right
        )
    except Untested as error:
        raise click.UsageError(
            f"{error}; do that first, or add --untested if you know the reading"
        ) from error


def _of_open_job(bench: Bench, given: Mapping[str, Any]) -> dict[str, str]:
    """The open job that is named, with what it knows of the machine where that was not given."""
    ended = slips.open_job(bench, given["job"], given["unit"])
    return {
        "job": ended.job,
        "unit": given["unit"] or ended.unit,
        "words": given["words"] or ended.words,
        "model": given["model"] or ended.model,
    }


@click.command()
@click.argument("job", metavar="JOB")
@click.option(
    "--why", required=True, metavar="TEXT", help="Why the confirmation was wrong."
)
@click.option("--by", default="", metavar="TEXT", help="Initials of whoever says so.")
@click.option("--yes", is_flag=True, help="Without asking.")
@json_option
@shop_option
def retract(
    bench: Bench, job: str, *, why: str, by: str, yes: bool, as_json: bool
) -> None:
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
        jobs = printing.counted(len(bench.past.jobs_of(imported)), "job")
        full, meant = imported.id, f"import {imported.id}: {jobs}"
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
