"""The command for a library of another trade: its folder, made with one sheet and every list."""

from __future__ import annotations

from pathlib import Path

import click

from kb.cli.options import done, json_option, tell


@click.command("new-library")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@json_option
def new_library(folder: Path, as_json: bool) -> None:
    """Make the folder of a library for another trade, with one sheet and every list, to be written over.

    Example: benchlore new-library lamps
    """
    from kb.library.founding import found_library

    files = found_library(folder)
    done(f"the library is in {folder}")
    tell(
        {"library": str(folder), "files": [str(file) for file in files]},
        [
            f"{folder} holds one sheet and {len(files) - 2} lists; begin with {folder / 'house' / 'trade.toml'}",
            f"benchlore check {folder} says what is missing, benchlore settings --library {folder} sets a shop to it",
        ],
        as_json,
    )
