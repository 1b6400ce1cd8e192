"""The console script: the commands of the core with `serve` and `demo` added; Flask is imported by those two alone."""

from __future__ import annotations

import os
import socket
from contextlib import suppress
from pathlib import Path

import click

from kb.bench import Bench
from kb.cli import main as main
from kb.options import shop_option

HOST, PORT = "127.0.0.1", 8377
#: Requests answered at once, and seconds until a stalled connection is dropped.
THREADS, STALLED = 8, 20
#: The most connections held open at once, and the longest header taken in bytes.
CONNECTIONS, LONGEST_HEADER = 500, 64 * 1024
LOOPBACK = ("localhost", "127.0.0.1")


@main.command()
@click.option("--host", default=HOST, show_default=True, help="Where to listen.")
@click.option("--port", default=PORT, type=click.IntRange(0, 65535), show_default=True, help="The port, 0 for any.")
@shop_option
def serve(bench: Bench, host: str, port: int) -> None:
    """Serve the web pages on this computer, or with --host on the shop's network.

    Example: benchlore serve --port 8377
    """
    _serve(bench, host, port)


@main.command()
@click.option("--shop", default=None, metavar="DIR", help="The demo shop's folder; kept and used again.")
@click.option("--port", default=PORT, type=click.IntRange(0, 65535), show_default=True, help="The pages' port.")
@click.option("--no-serve", is_flag=True, help="Only make the shop and show one search.")
@click.option("--seed", default=13, show_default=True, help="Another number gives another history.")
def demo(shop: str | None, port: int, no_serve: bool, seed: int) -> None:
    """Make a shop with an invented history, show one search, and serve its pages.

    Example: benchlore demo
    """
    bench = Bench(Path(shop) if shop else _demo_folder())
    made = fill_with_invented_jobs(bench, seed)
    click.echo(f"{'made' if made else 'using'} the demo shop {bench.shop}: every job in it is invented")
    _worked_search(bench)
    if not no_serve:
        _serve(bench, HOST, port)


def fill_with_invented_jobs(bench: Bench, seed: int) -> int:
    """How many invented jobs were put into a shop; none if it has a history already."""
    from kb.demo import fill, invented_jobs

    if bench.models():
        return 0
    return fill(bench.history(), invented_jobs([entry for entry, _ in bench.entries()], seed))


def _worked_search(bench: Bench) -> None:
    """Print one search as a person at the bench would see it."""
    from kb import printing

    model = (bench.models() or [""])[0]
    words = "wont chrge, led stays orange"
    click.echo(f'\n$ benchlore search "{words}" --model "{model}" --shop {bench.shop}\n')
    click.echo("\n".join(printing.answer_lines(bench.search(words, model, limit=2))))
    click.echo("")


def _serve(bench: Bench, host: str, port: int) -> None:
    """Answer until interrupted; prints the address once the port is open."""
    from waitress.server import create_server

    from webui.app import create_app

    if ":" in host:
        raise click.UsageError("give --host as a name or as an address such as 192.168.1.20, without a port")
    app = create_app(bench, trusted_hosts=_names(host))
    try:
        server = create_server(
            app, host=host, port=port, threads=THREADS, channel_timeout=STALLED, connection_limit=CONNECTIONS,
            max_request_header_size=LONGEST_HEADER, clear_untrusted_proxy_headers=True, ident="benchlore",
        )  # fmt: skip
    except OSError as error:
        trouble = f"port {port} on {host} cannot be opened ({error.strerror}); give another --port"
        raise click.ClickException(trouble) from error
    bench.models()  # builds the index if it is not up to date, so that the first visitor does not wait for it
    chosen = getattr(server, "effective_port", port)
    name = host if host in LOOPBACK else socket.gethostname()
    click.echo(f"Benchlore answers at http://{name}:{chosen}/ (Ctrl-C ends it)")
    if host not in LOOPBACK:
        click.echo("Anyone on this network can read and write here.", err=True)
    try:
        server.run()
    finally:
        server.close()


def _names(host: str) -> list[str]:
    """The host names that browsers may use: loopback, what was listened on, and on a network this computer's names."""
    names = [*LOOPBACK]
    if host in LOOPBACK:
        return names
    name = socket.gethostname()
    names += [name, f"{name}.local", f"{name}.lan", *_own_addresses(name)]
    if host != "0.0.0.0":
        names.append(host)
    return list(dict.fromkeys(names))


def _own_addresses(name: str) -> list[str]:
    """The addresses of this computer as its own resolver and its default route give them."""
    found = set()
    with suppress(OSError):
        found |= {str(info[4][0]) for info in socket.getaddrinfo(name, None, socket.AF_INET)}
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.connect(("192.0.2.1", 9))  # an address for documentation (RFC 5737): connecting a datagram sends nothing
        found.add(str(probe.getsockname()[0]))
    return sorted(found)


def _demo_folder() -> Path:
    home = os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share"
    return Path(home) / "benchlore-demo"
