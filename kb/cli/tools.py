"""The command for the tools of a shop: which there are, and which of them it lacks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli import completing, json_contract, text
from kb.cli.options import done, end_with, json_option, shop_option, tell

if TYPE_CHECKING:
    from kb.bench.front import Bench


@click.command()
@click.option(
    "--lack",
    multiple=True,
    metavar="NAME",
    shell_complete=completing.tools,
    help="This tool or part is not here; may be given repeatedly.",
)
@click.option(
    "--have",
    multiple=True,
    metavar="NAME",
    shell_complete=completing.tools,
    help="This tool or part is here; may be given repeatedly.",
)
@json_option
@shop_option
def tools(
    bench: Bench, lack: tuple[str, ...], have: tuple[str, ...], as_json: bool
) -> None:
    """List the tools that tests and fixes need, most tests first, and say which of them are not here.

    A test that needs a lacking tool is not proposed any more.

    Example: benchlore tools --lack "multimeter" --lack "bench supply"
    """
    lack, have = _each(lack), _each(have)
    if lack or have:
        bench.shop.kept_settings.change_tools(lack, have)
        done(f"what is lacking is noted in {bench.shop.kept_settings.path}")
    found = bench.entries.tools()
    tell(json_contract.of_tools(found), text.tool_lines(found), as_json)
    end_with(not bench.shop.settings.problem)


def _each(given: tuple[str, ...]) -> tuple[str, ...]:
    """The names given, with those that stand in one pair of quotes taken apart at their commas."""
    return tuple(
        name.strip() for one in given for name in one.split(",") if name.strip()
    )
