"""The command for the past: old jobs from a spreadsheet or another shop, shown before they are saved."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, BinaryIO

import click

from kb.cli import json_contract
from kb.cli.options import Figure, done, end_with, json_option, say, shop_option, tell
from kb.cli.phrases import first_of
from kb.cli.text import counted
from kb.history.spreadsheet import FIELDS, ORDERS

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.bench.past import Past
    from kb.history.spreadsheet import Spreadsheet

#: Jobs of a dry run, and strange things of one kind, that are shown one by one.
SHOWN = 10


def _columns(
    _: click.Context, __: click.Parameter, given: tuple[str, ...]
) -> dict[str, str]:
    """What --columns says; a heading that holds a comma needs a --columns of its own."""
    columns: dict[str, str] = {}
    for pair in _pairs(given):
        name, sign, heading = pair.partition("=")
        if not sign or not heading.strip():
            raise click.BadParameter(
                f"write FIELD=HEADING, as in model=Model; the fields are {', '.join(FIELDS)}"
            )
        columns[name.strip()] = heading.strip()
    return columns


def _pairs(given: tuple[str, ...]) -> Iterator[str]:
    for one in given:
        yield from one.split(",") if one.count("=") > 1 else [one]


@click.command("import")
@click.argument("file", type=click.File("rb"))
@click.option(
    "--columns",
    multiple=True,
    metavar="FIELD=HEADING,...",
    callback=_columns,
    help="Which column gives which field.",
)
@click.option("--dry-run", is_flag=True, help="Only say what would be saved.")
@click.option(
    "--propose",
    "sure",
    type=Figure(1, 100),
    metavar="PERCENT",
    help="Save a cause that the search proposes if it is that likely at least.",
)
@click.option(
    "--days",
    type=click.Choice(ORDERS),
    help="How 3/4/2024 is meant: day first (dmy) or month first (mdy).",
)
@click.option(
    "--encoding",
    default="",
    metavar="NAME",
    help="The encoding of the spreadsheet, such as cp1250.",
)
@click.option(
    "--new-models", is_flag=True, help="Models near a known one are meant as written."
)
@json_option
@shop_option
def import_(
    bench: Bench,
    file: BinaryIO,
    *,
    dry_run: bool,
    as_json: bool,
    sure: float | None,
    **given: Any,
) -> None:
    """Take in closed jobs from a spreadsheet (CSV) or JSON Lines; taking them in twice changes nothing.

    A spreadsheet needs headings. Its fields are model and day, which it must have; words (the complaint) or cause, or
    both; tag, minutes, part, donor, note and by. A cause that is not written as entry/cause is proposed from the words.

    Example: benchlore import old.csv --columns model=Model,words=Complaint,day=Closed --dry-run
    """
    from kb.bench.past import NO_PROPOSALS, PastAsked

    if doubt := bench.shop.clock_doubt():
        say(f"Warning: {doubt}; the records carry that date", err=True)
    asked = PastAsked(
        sure=sure / 100 if sure else NO_PROPOSALS,
        **{**given, "days": given["days"] or ""},
    )
    past = bench.past.read(
        file.read(), asked, getattr(file, "name", "import"), dry=dry_run
    )
    told = _told(past, dry_run)
    if not dry_run:
        done(told)
    for remark in past.report.remarks:
        say(str(remark), err=True)
    tell(_of_past(past, dry_run), _lines(past, told, dry_run), as_json)
    for line in _strange(past):
        say(line, err=True)
    end_with(not past.report.remarks)


def _told(past: Past, dry_run: bool) -> str:
    report = past.report
    told = f"jobs {'that would be added' if dry_run else 'added'}: {report.added}; known already: {report.known}; "
    told += f"lines refused: {len(report.remarks)}"
    return told + (
        f"; records of machines, lots and parts: {report.floor}" if report.floor else ""
    )


def _lines(past: Past, told: str, dry_run: bool) -> Iterator[str]:
    """How the file was read, for a dry run its first jobs, and what became of it."""
    if past.sheet:
        yield from _read_as(past.sheet)
    proposed = {one.line: one.probability for one in past.proposals}
    for line in past.jobs[:SHOWN] if dry_run else ():
        job = line.job
        as_written = f"; {job.note}" if job.note else ""
        likely = (
            f" (proposed, {proposed[line.number]:.0%}{as_written})"
            if line.number in proposed
            else ""
        )
        yield f"line {line.number}: {job.closed_at[:10]}  {job.model}  {job.cause}{likely}  {job.words}"
    if dry_run and len(past.jobs) > SHOWN:
        yield f"and {len(past.jobs) - SHOWN} more"
    yield told
    if dry_run:
        yield "nothing was saved: this was a dry run"
    elif past.imported:
        yield f'take all of it back with: benchlore retract {past.imported} --why "..."'


def _read_as(sheet: Spreadsheet) -> Iterator[str]:
    columns = ", ".join(
        f"{field} = {heading}" for field, heading in sheet.headings.items()
    )
    yield f"read as {sheet.encoding}, columns divided by {sheet.separator}: {columns}"
    if sheet.left_out:
        yield f"left out: {', '.join(sheet.left_out)}"


def _strange(past: Past) -> Iterator[str]:
    """What was taken in all the same and deserves a look, one sentence a kind."""
    report = past.report
    if not any((report.added, report.known, report.remarks, report.floor)):
        yield "the file is empty; give one that benchlore export has written, or a spreadsheet with headings"
    if past.unknown_causes:
        what = (
            "not written as entry/cause, or not listed by a sheet"
            if past.sheet
            else "that no sheet here lists, counted under their names"
        )
        yield f"causes {what}: {_counted(past.unknown_causes)}"
    if past.near_models:
        pairs = [
            f"{model} (nearest: {near})" for model, near in past.near_models.items()
        ]
        yield f"models that nobody has seen here: {first_of(pairs, SHOWN)}"
    if past.bad_days:
        yield f"lines whose day cannot be read: {past.bad_days}"
    if past.unknown_keys:
        yield f"keys that no job has, left out: {_counted(past.unknown_keys)}"
    if past.report.repeats:
        lines = first_of(list(map(str, past.report.repeats)), SHOWN)
        yield f"lines that say the same as an earlier one and count once: {lines}"


def _counted(counts: Any) -> str:
    return first_of(
        [f"{name} on {counted(count, 'line')}" for name, count in counts.items()], SHOWN
    )


def _of_past(past: Past, dry_run: bool) -> dict[str, Any]:
    """The JSON of it."""
    proposed = {one.line: one for one in past.proposals}
    jobs = past.jobs if dry_run else ()
    return {
        "dry_run": dry_run,
        "added": past.report.added,
        "known": past.report.known,
        "refused": len(past.report.remarks),
        "floor_records": past.report.floor,
        "import": past.imported or None,
        "encoding": past.sheet.encoding if past.sheet else None,
        "columns": dict(past.sheet.headings) if past.sheet else None,
        "jobs": [_of_line(line.number, line.job) for line in jobs],
        "proposed": [
            {
                "line": one.line,
                "cause": one.cause,
                "probability": round(one.probability, 4),
            }
            for one in proposed.values()
        ],
        "refused_lines": [
            json_contract.of_remark(remark) for remark in past.report.remarks
        ],
        "unknown_causes": dict(past.unknown_causes),
        "near_models": dict(past.near_models),
        "bad_days": past.bad_days,
        "unknown_keys": dict(past.unknown_keys),
    }


def _of_line(number: int, job: Any) -> dict[str, Any]:
    from kb.history import fields

    return {"line": number, **fields.to_json(job)}
