"""The command to learn from other shops: their pooled counts taken in, shown or forgotten."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli.options import done, end_with, json_option, shop_option, tell
from kb.cli.text import counted

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.bench.learning import Learned


@click.command()
@click.argument(
    "file", required=False, type=click.Path(path_type=Path, exists=True, dir_okay=False)
)
@click.option("--forget", is_flag=True, help="Forget what was learned.")
@json_option
@shop_option
def learn(bench: Bench, file: Path | None, forget: bool, as_json: bool) -> None:
    """Take in what other shops had, as their office pooled it, or show what was taken in.

    It stands between the weights of a sheet and this shop's own jobs: the more of those there are, the less it says.
    Jobs that this shop itself had sent are left out. A newer file takes the place of the one before. It is off with
    benchlore settings --elsewhere off.

    Example: benchlore learn counts.json
    """
    if file and forget:
        raise click.UsageError("give a file to learn from or --forget, not both")
    if forget:
        _forgotten(bench, as_json)
    if file:
        found: Learned | None = bench.learning.learn(file.read_bytes())
        done(f"what other shops had is kept in {bench.learning.file}")
    else:
        found = bench.learning.standing()
    tell(_json(found), _lines(found), as_json)
    end_with(found)


def _forgotten(bench: Bench, as_json: bool) -> None:
    """Forget what was learned, and say so; ends the command."""
    there = bench.learning.forget()
    said = (
        "what other shops had is forgotten"
        if there
        else "nothing was learned from other shops"
    )
    done(said)
    tell({"forgotten": there}, [said], as_json)
    end_with(there)


def _json(found: Learned | None) -> dict[str, Any]:
    if found is None:
        return {"made": None}
    return {
        "made": found.made,
        "shops": found.shops,
        "jobs": found.jobs,
        "sheets": found.sheets,
        "of_sheets": found.of_sheets,
        "unknown_sheets": found.unknown_sheets,
        "unknown_causes": found.unknown_causes,
        "believed": found.believed,
        "left_out": found.left_out,
    }


def _lines(found: Learned | None) -> Iterator[str]:
    if found is None:
        yield "nothing was learned from other shops: benchlore learn FILE"
        return
    pooled = f"{counted(found.jobs, 'job')} in {counted(found.shops, 'shop')}"
    yield f"elsewhere: {pooled} for {found.sheets} of {counted(found.of_sheets, 'sheet')}, as of {found.made}"
    if found.left_out:
        yield f"left out: {counted(found.left_out, 'job')} that this shop had sent itself"
    unknown = [
        counted(number, what)
        for number, what in (
            (found.unknown_sheets, "sheet"),
            (found.unknown_causes, "cause"),
        )
        if number
    ]
    if unknown:
        yield f"{' and '.join(unknown)} that this library does not have: kept until it has"
    if not found.believed:
        yield "it is switched off in this shop: benchlore settings --elsewhere on"
