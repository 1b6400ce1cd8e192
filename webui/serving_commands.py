"""The commands that serve the pages: `serve` and `demo`; Flask is imported by their calls alone."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from kb.base import folders
from kb.cli import json_contract
from kb.cli.options import Whole, done, json_option, say, shop_option

if TYPE_CHECKING:
    from kb.bench.front import Bench

HOST, PORT = "127.0.0.1", 8377
#: How the folder of the demo's shop is called.
DEMO = "benchlore-demo"
_FILE = click.Path(path_type=Path, exists=True, dir_okay=False)
_Command = TypeVar("_Command", bound=Callable[..., Any])


def _port_option(told: str) -> Callable[[_Command], _Command]:
    """Adds --port, with what it means to the command."""
    return click.option(
        "--port",
        default=PORT,
        type=Whole(0, 65535),
        metavar="N",
        show_default=True,
        help=told,
    )


@click.command()
@click.option("--host", default=HOST, show_default=True, help="Where to listen.")
@_port_option("The port, 0 for any.")
@click.option(
    "--certificate",
    type=_FILE,
    metavar="FILE",
    help="Answer over TLS with this certificate (PEM).",
)
@click.option(
    "--key",
    type=_FILE,
    metavar="FILE",
    help="The certificate's key (PEM, without a password).",
)
@click.option(
    "--copy-to",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Keep a backup in that folder, which must be there, on another disk; never more than a minute behind.",
)
@click.option(
    "--mirror",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Keep a second history file, about a second behind, for a program that streams SQLite's write-ahead log.",
)
@click.option(
    "--processes",
    default=1,
    type=Whole(1, 32),
    metavar="N",
    show_default=True,
    help="Answer with so many processes, for a crowd at once on a computer with as many cores.",
)
@click.option(
    "--ask", is_flag=True, help="Ask for the passphrase on this computer too."
)
@shop_option
def serve(
    bench: Bench,
    *,
    host: str,
    port: int,
    certificate: Path | None,
    key: Path | None,
    copy_to: Path | None,
    mirror: Path | None,
    processes: int,
    ask: bool,
) -> None:
    """Serve the web pages on this computer, or with --host on the shop's network.

    On the network every visitor signs in with the passphrase that `benchlore passphrase` sets; on this
    computer alone nobody is asked.

    Example: benchlore serve --port 8377
    """
    from webui.serving import server

    server.serve(
        bench,
        server.place(host, port, certificate, key, ask),
        copy_to,
        mirror,
        processes,
    )


@click.command()
@click.option(
    "--shop",
    default=None,
    metavar="DIR",
    help="The demo shop's folder; kept and used again.",
)
@_port_option("The pages' port.")
@click.option(
    "--no-serve", is_flag=True, help="Only make the shop and show one search."
)
@click.option(
    "--seed",
    default=13,
    show_default=True,
    help="Another number gives another history.",
)
@json_option
@click.pass_context
def demo(
    ctx: click.Context,
    shop: str | None,
    *,
    port: int,
    no_serve: bool,
    seed: int,
    as_json: bool,
) -> None:
    """Make a shop with an invented history, show one search, and serve its pages.

    Example: benchlore demo
    """
    from kb.bench.front import Bench

    if as_json and not no_serve:
        raise click.UsageError(
            "what is served is for people; give --no-serve with --json"
        )
    given = shop or ctx.find_root().params.get("shop")
    bench = Bench(Path(given) if given else folders.usual(DEMO))
    made = fill_with_invented_jobs(bench, seed)
    done(f"the demo shop {bench.folder} is there")
    _show(bench, made, as_json)
    if not no_serve:
        from webui.serving import server

        server.serve(bench, server.place(HOST, port))


def fill_with_invented_jobs(bench: Bench, seed: int) -> int:
    """How many invented jobs and machines were put into a shop; none if it has a history already."""
    from kb.bench.settings import PALLET
    from kb.demo import jobs, mark_invented, pallets
    from kb.demo.scenario import scenario_of

    if bench.asking.models():
        return 0
    bench.shop.kept_settings.set_source(PALLET)
    bench.shop.kept_settings.set_money(3600, "EUR")
    entries = bench.entries.served()
    scenario = scenario_of(bench.shop.customs)
    made = jobs.invented_jobs(entries, seed, scenario=scenario)
    mark_invented(bench.folder)
    story = pallets.invented(entries, bench.shop.customs.check_list(), seed, scenario)
    return pallets.fill(bench.folder / "history.db", story, made)


def _show(bench: Bench, made: int, as_json: bool) -> None:
    """Print where the demo shop is, and one search as a person at the bench would see it."""
    from kb.cli import text
    from kb.demo.scenario import scenario_of

    model = (bench.asking.models() or [""])[0]
    words = scenario_of(bench.shop.customs).search
    answer = bench.asking.search(words, model, limit=2)
    if as_json:
        found = {
            "folder": str(bench.folder),
            "made": made,
            "answer": json_contract.of_answer(answer),
        }
        click.echo(json_contract.to_json(found))
        return
    say(
        f"{'made' if made else 'using'} the demo shop {bench.folder}: every job in it is invented"
    )
    say(f'\n$ benchlore search "{words}" --model "{model}" --shop {bench.folder}\n')
    say("\n".join(text.answer_lines(answer)))
    say("")
