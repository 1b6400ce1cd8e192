"""The commands of the core: read arguments, ask the bench, print; nothing is decided here."""

from __future__ import annotations

from pathlib import Path

import click

from kb import __version__
from kb.checks import inspect, inspect_library
from kb.shelf import Shelf, read_sheet, stock_folder


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="benchlore")
def main() -> None:
    """Benchlore: the workshop's memory."""


@main.command()
@click.argument("paths", nargs=-1, type=click.Path(exists=True, path_type=Path))
def check(paths: tuple[Path, ...]) -> None:
    """Name every problem in the entries."""
    if paths:
        files = [file for path in paths for file in (sorted(path.glob("*.md")) if path.is_dir() else [path])]
        sheets = [read_sheet(file, own=True) for file in files]
    else:
        sheets = list(Shelf(stock_folder(), None).sheets())
    remarks = [remark for sheet in sheets for remark in sheet.parsed.remarks]
    entries = [sheet.entry for sheet in sheets if sheet.entry]
    remarks += [remark for entry in entries for remark in inspect(entry)]
    if not paths:
        remarks += inspect_library(entries)
    for remark in sorted(remarks, key=lambda remark: (remark.file, remark.line)):
        click.echo(str(remark))
    raise SystemExit(1 if remarks else 0)
