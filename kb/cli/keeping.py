"""The commands that keep a history: exchange, back up, restore, verify; each loads what it alone needs."""

from __future__ import annotations

import itertools
import sqlite3
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.base import durable
from kb.base.trouble import Refusal
from kb.cli import json_contract, text
from kb.cli.options import a_day, done, end_with, json_option, say, shop_option, tell
from kb.cli.phrases import first_of, if_any

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.bench.health import State
    from kb.bench.pictures_kept import PicturesKept
    from kb.history.copies.register import BackedUp
    from kb.history.copies.restore import RestoreReport
    from kb.history.dates import Misdated
    from kb.history.verification import Verification

#: What stands in a table before its first job: the mark of its encoding and the headings.
HEAD_OF_A_TABLE = 2
#: How a line begins that is of no job.
RECORD = b'{"kind"'


@click.command()
@click.argument(
    "file",
    type=click.Path(path_type=Path, dir_okay=False, allow_dash=True),
    default="-",
)
@click.option(
    "--with-retracted", is_flag=True, help="Retracted jobs too, marked as such."
)
@click.option(
    "--everything",
    is_flag=True,
    help="Machines, lots and prices too: for your own move, not for others.",
)
@click.option(
    "--replace", is_flag=True, help="Put it in place of a file that is there."
)
@click.option(
    "--csv",
    "as_table",
    is_flag=True,
    help="A table for a spreadsheet (CSV) in place of JSON Lines.",
)
@click.option(
    "--since",
    default="",
    metavar="DATE",
    callback=a_day,
    help="Only jobs closed from this day on.",
)
@click.option(
    "--shared",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="What an office may know, as this shop's file in that folder.",
)
@click.option(
    "--parquet",
    is_flag=True,
    help="With --shared: a Parquet file in place of JSON Lines.",
)
@shop_option
def export(
    bench: Bench,
    file: Path,
    *,
    replace: bool,
    shared: Path | None,
    parquet: bool,
    **asked: Any,
) -> None:
    """Write the history as JSON Lines, one closed job a line; a file that is there already is left as it is.

    Serials, sellers, prices and places stay at home unless --everything asks for them.

    With --shared the shop's own jobs, tests, fits and gaps go into one file under an anonymous id, written anew each
    time. No tags, names, notes or prices are in it, and no complaints, as their words can hold a name; models, parts
    and causes stand as they are written here.

    Example: benchlore export jobs.jsonl
    """
    if shared or parquet:
        _share(
            bench,
            shared,
            parquet,
            alone=file == Path("-") and not replace and not any(asked.values()),
        )
        return
    lines = _exported(bench, **asked)
    if file == Path("-"):
        sys.stdout.buffer.writelines(lines)
        sys.stdout.flush()
        return
    passed = Counter[str]()
    write_whole_file(file, _counting(lines, passed), replace)
    say(
        f"{file}: {_told_of(passed, whole=asked['everything'], as_table=asked['as_table'])}",
        err=True,
    )


def _share(bench: Bench, folder: Path | None, parquet: bool, *, alone: bool) -> None:
    """Write what an office may know into the shop's file of a folder."""
    from kb.bench.sharing import share

    if folder is None:
        raise click.UsageError("--parquet goes with --shared FOLDER")
    if not alone:
        raise click.UsageError(
            "--shared FOLDER goes alone or with --parquet: it writes one file, whole, each time"
        )
    try:
        sent = share(bench.shop, folder, "parquet" if parquet else "jsonl")
    except OSError as error:
        raise click.ClickException(
            f"{folder}: {error.strerror}; nothing was written there; make room, mend permissions, or give another place"
        ) from error
    say(
        f"{sent.file}: {text.counted(sent.jobs, 'job')}, {text.counted(sent.lines, 'line')}",
        err=True,
    )


def _told_of(passed: Counter[str], *, whole: bool, as_table: bool) -> str:
    """What was written, counted: all of it, or jobs beside what other shops are told of fits and models."""
    if whole:
        return text.counted(passed["lines"], "record")
    jobs = passed["lines"] - passed["others"] - (HEAD_OF_A_TABLE if as_table else 0)
    others = text.counted(passed["others"], "line")
    return text.counted(jobs, "job") + (
        f", {others} on fits and models" if passed["others"] else ""
    )


def _counting(lines: Iterator[bytes], passed: Counter[str]) -> Iterator[bytes]:
    """The same lines, counted as they pass."""
    for line in lines:
        passed["lines"] += 1
        passed["others"] += line.startswith(RECORD)
        yield line


def _exported(
    bench: Bench, *, with_retracted: bool, everything: bool, as_table: bool, since: str
) -> Iterator[bytes]:
    """The bytes of an export, line by line."""
    from kb.history import exchange

    if everything and (as_table or since):
        raise click.UsageError(
            "--everything is for a move and goes with neither --csv nor --since"
        )
    history = bench.history()
    if as_table:
        mark = "\ufeff"  # by which spreadsheets know UTF-8
        table = exchange.export_table(
            history, with_retracted, bench.past.day_begins(since)
        )
        return (text.encode() for text in itertools.chain([mark], table))
    if everything:
        from kb.bench import pictures_kept

        jobs = exchange.export_everything(
            history, lambda file: pictures_kept.fetch(bench.shop, file)
        )
    else:
        jobs = exchange.export_jobs(
            history, with_retracted, bench.past.day_begins(since)
        )
    return (f"{line}\n".encode() for line in jobs)


def write_whole_file(file: Path, lines: Iterator[bytes], replace: bool) -> None:
    """Write a file, whole or not at all; what is wrong with the file or its disk is told in a sentence."""
    try:
        durable.write_pieces(file, lines, replace=replace)
    except FileExistsError:
        raise Refusal(
            f"{file} exists already; give another name, or add --replace"
        ) from None
    except (FileNotFoundError, NotADirectoryError) as error:
        raise click.FileError(str(file), error.strerror) from error
    except OSError as error:
        raise click.ClickException(
            f"{file}: {error.strerror}; nothing was written there; make room, mend permissions, or give another place"
        ) from error


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@json_option
@shop_option
def backup(bench: Bench, file: Path, as_json: bool) -> None:
    """Write history, own entries and words into one checked file.

    Example: benchlore backup friday.zip
    """
    from kb.history.copies import backup as keeping
    from kb.history.copies import register
    from kb.history.copies.members import in_words

    manifest = keeping.backup(bench.folder, file, bench.shop.clock())
    records = text.counted(manifest.records, "record")
    files = text.counted(len(manifest.files), "file")
    told = f"{file}: {records} and {files}, checked"
    done(told)
    if not as_json:
        say(told)
    if manifest.left_out:
        say(f"left out: {in_words(manifest.left_out)}", err=True)
    elsewhere = None
    try:
        elsewhere = register.note(bench.folder, file, manifest).elsewhere
    except OSError as error:
        say(
            f"the shop keeps no note of this backup, so that verify will not know of it: {error}",
            err=True,
        )
    if as_json:
        click.echo(
            json_contract.to_json(json_contract.of_backup(file, manifest, elsewhere))
        )
    elif elsewhere is False:
        say("it is on the same disk as the shop; one on another disk outlives this one")


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
@click.option(
    "--replace",
    is_flag=True,
    help="Put it in place of a history that is there; the old one is kept aside.",
)
@json_option
@shop_option
def restore(bench: Bench, file: Path, replace: bool, as_json: bool) -> None:
    """Put a backup, or a plain history file such as a mirror, in place after checking all of it; stop the server first.

    Example: benchlore restore friday.zip --shop new-shop
    """
    from kb.history.copies import backup as keeping

    report = keeping.restore(file, bench.folder, bench.shop.clock(), replace=replace)
    told = (
        f"{text.counted(report.manifest.records, 'record')} restored to {bench.folder}"
    )
    done(told + (f", what stood there is kept in {report.kept}" if report.kept else ""))
    taken_up = bench.shop.kept_settings.take_up_library()
    lines = [
        told,
        *_restored_lines(report),
        *_library_lines(bench.folder, report, taken_up),
    ]
    tell(json_contract.of_restore(bench.folder, report, taken_up), lines, as_json)


def _restored_lines(report: RestoreReport) -> Iterator[str]:
    """What a restore kept, and what it could not bring."""
    from kb.history.copies.members import in_words

    if report.kept:
        yield f"what stood there is kept in {report.kept}"
    if not report.whole:
        yield "own entries and words are not in it; to have them too, restore a backup, then this file with --replace"
    for left in report.left:
        yield f"left as it was: {left}"
    if report.manifest.left_out:
        yield f"not in it, since they could not be packed: {in_words(report.manifest.left_out)}"


def _library_lines(shop: Path, report: RestoreReport, taken_up: bool) -> Iterator[str]:
    """Where the library that came with a backup is, and which one the shop works with."""
    from kb.history.copies.members import LIBRARY

    if taken_up:
        yield f"the shop works with the library in {shop / LIBRARY} now, since the one it named is not there"
    elif report.holds_library:
        yield f"the library of that day is in {shop / LIBRARY}; the shop works with the one its settings name"


@click.command()
@json_option
@shop_option
def verify(bench: Bench, as_json: bool) -> None:
    """Say on one screen whether all is well with the shop's memory.

    Example: benchlore verify
    """
    health = _looked_after(bench)
    if as_json:
        click.echo(json_contract.to_json(_told(health)))
    else:
        for line in _lines(health, bench.shop.clock()):
            say(line)
        if health.clock_doubt:
            say(f"warning: {health.clock_doubt}", err=True)
        for problem in health.problems:
            say(f"problem: {problem}", err=True)
        say(_conclusion(health))
    end_with(not health.problems)


@dataclass(frozen=True, slots=True, kw_only=True)
class Health:
    """What a look through a shop's memory found; `history` is None where there is none yet or it cannot be used."""

    history: Verification | None
    unusable: str
    state: State
    backups: BackedUp
    dates: Misdated
    pictures: PicturesKept

    @property
    def problems(self) -> tuple[str, ...]:
        """A sentence for each thing that is to be mended."""
        of_history = self.history.problems() if self.history else ()
        unusable = (self.unusable,) if self.unusable else ()
        return (
            *unusable,
            *of_history,
            *self.state.problems,
            *self.pictures.problems,
            *self.backups.problems(),
        )

    @property
    def clock_doubt(self) -> str:
        """Why the clock looks wrong now, empty if it does not."""
        return self.history.clock_warning if self.history else ""


def _looked_after(bench: Bench) -> Health:
    from kb.bench import pictures_kept
    from kb.history.dates import Misdated
    from kb.history.trouble import HistoryTrouble, NoHistory
    from kb.history.verification import verify as verified

    found, unusable = None, ""
    try:
        found = verified(bench.folder / "history.db", bench.shop.clock)
    except NoHistory:
        pass  # the first job makes it
    except HistoryTrouble as trouble:
        unusable = str(trouble)
    return Health(
        history=found,
        unusable=unusable,
        state=bench.health.state(),
        backups=bench.health.backed_up(thorough=True),
        dates=bench.health.misdated() if found and found.ok else Misdated(),
        pictures=pictures_kept.kept(bench.shop),
    )


def _told(health: Health) -> dict[str, Any]:
    """The JSON of it."""
    found = health.history
    return {
        "ok": not health.problems,
        "problems": list(health.problems),
        "records": found.records if found else None,
        "floor_records": found.of_the_floor if found else None,
        "sqlite": sqlite3.sqlite_version,
        "journal_mode": found.journal_mode if found else None,
        "chain": found.chain if found else None,
        "clock_warning": health.clock_doubt,
        "entries": health.state.entries,
        "index_in_step": health.state.in_step,
        "pictures": health.pictures.count,
        "foreign_pictures": list(health.pictures.foreign),
        **json_contract.of_backups(health.backups),
        **json_contract.of_dates(health.dates),
    }


def _lines(health: Health, now: datetime) -> Iterator[str]:
    """The screen, without what is wrong."""
    found, state = health.history, health.state
    mode = found.journal_mode if found else "unknown"
    step = "in step with entries and history" if state.in_step else "OUT OF STEP"
    yield f"history       {_history_told(health)}"
    yield f"SQLite        {sqlite3.sqlite_version}, journal mode {mode}"
    yield f"entries       {state.entries} served, {state.remarks} remarks (benchlore check names them)"
    yield f"index         {step}"
    if health.pictures.count:
        yield f"pictures      {health.pictures.count} of jobs and machines"
    if health.pictures.foreign:
        yield f"foreign       {_foreign(health.pictures)}"
    yield from text.backup_lines(health.backups, now)
    yield from text.date_lines(health.dates)


def _history_told(health: Health) -> str:
    """How many records there are and whether their chain is whole; why there are none to be counted."""
    if health.history:
        chain = "whole" if health.history.chain_ok else "BROKEN"
        return f"{_counted(health.history)}, chain {chain}"
    return "CANNOT BE USED" if health.unusable else "none yet: the first job makes it"


def _foreign(pictures: PicturesKept) -> str:
    """The files beside the pictures that nothing names, their names without signs that a terminal would obey."""
    named = first_of([ascii(name)[1:-1] for name in pictures.foreign], 3)
    return f"{named} in entries/pictures, which nothing names"


def _counted(found: Verification) -> str:
    floor = if_any(" ({} of machines, lots and parts)", found.of_the_floor)
    return f"{text.counted(found.records, 'record')}{floor}"


def _conclusion(health: Health) -> str:
    if health.history and not health.history.ok:
        return f"put the last good backup back with: {health.history.todo}"
    if health.problems:
        return "see the problems above"
    if health.dates.count or health.clock_doubt:
        return "all is there; look at the dates"
    return "all is well"
