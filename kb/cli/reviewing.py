"""The commands for reviewing: what failed, and what is to be mended in the entries."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli import completing, json_contract
from kb.cli import text as printing
from kb.cli.options import a_day, end_with, json_option, say, shop_option

if TYPE_CHECKING:
    from kb.bench.front import Bench


@click.command()
@completing.model_option("One model; all models without it.")
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
        raise click.UsageError(
            "the day after --since comes later than the one after --until; swap them"
        )
    seen = bench.looking_back.overview(model, since, until)
    found = seen.review
    if as_json:
        click.echo(json_contract.to_json(json_contract.of_overview(seen)))
    elif found.jobs:
        say("\n".join(printing.overview_lines(seen)))
    if not found.jobs:
        say(_no_jobs(model, bool(since or until), bench.asking.models()[:8]), err=True)
        raise SystemExit(1)


def _no_jobs(model: str, days: bool, models: Sequence[str]) -> str:
    """That a review is empty, and what to ask for in its place."""
    told = f"no closed jobs{' on ' + model if model else ''}{' in these days' if days else ''}"
    if not models:
        return f"{told}; confirm a fix at the bench, or import jobs"
    return f"{told}; choose {'other days, or ' if days else ''}a model that was here, such as {', '.join(models)}"


@click.command()
@click.argument("paths", nargs=-1, type=click.Path(exists=True, path_type=Path))
@json_option
@shop_option
def check(bench: Bench, paths: tuple[Path, ...], as_json: bool) -> None:
    """Name every problem in the entries, words and settings, with file, line and what to write instead.

    What begins with "wish" is no error but could be better; wishes alone end with 0.

    Example: benchlore check entries/battery-not-detected.md
    """
    for path in paths:
        if path.is_dir() and not any(path.glob("*.md")):
            raise click.UsageError(
                f"there is no entry (*.md) in {path}; give a folder with entries, or a file"
            )
    remarks = bench.entries.check(paths)
    wrong = [remark for remark in remarks if not remark.wish]
    if as_json:
        click.echo(
            json_contract.to_json(
                [json_contract.of_remark(remark) for remark in remarks]
            )
        )
    else:
        for remark in remarks:
            say(f"wish: {remark}" if remark.wish else str(remark))
        if not wrong:
            say("nothing to mend", err=True)
    end_with(not wrong)
