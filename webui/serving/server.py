"""The server: where it listens, who may visit, over TLS or not; stopped by Ctrl-C."""

from __future__ import annotations

import gc
import logging
import socket
import sys
import threading
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import click

from kb.base.streams import OutputLost
from kb.bench.front import Bench
from kb.history.copies.watch import Troubled, Watch
from webui.guard import hosts
from webui.guard.door import Door
from webui.guard.entering import Acquaintance, known_by
from webui.serving.visitors import STALLED, Allowance, Rules, Visitor, room_for

#: Requests answered at once.
THREADS = 8
#: Seconds for which new entries and jobs are waited for before the first visitor is let in.
READING = 2.0
#: Visitors who may wait to be let in.
BACKLOG = 1024
#: Seconds between two looks for stalled connections.
CLEANUP = 5
#: The longest header and the longest body (a picture) taken, and what a visitor may send before signing in, in bytes;
#: a browser that signed in here before may send a form, so that the page that asks to sign in again keeps its text.
LONGEST_HEADER, LONGEST_BODY, OF_A_STRANGER, OF_A_KNOWN = (
    64 * 1024,
    16 * 1024 * 1024,
    64 * 1024,
    256 * 1024,
)


@dataclass(frozen=True, slots=True)
class ServingPlace:
    """Where to listen: a plain host and a port, a certificate and its key for TLS, a door even on loopback."""

    host: str
    port: int
    certificate: Path | None = None
    key: Path | None = None
    ask: bool = False

    @property
    def local(self) -> bool:
        """Whether only this computer reaches it."""
        return hosts.is_loopback(self.host)


def place(
    host: str,
    port: int,
    certificate: Path | None = None,
    key: Path | None = None,
    ask: bool = False,
) -> ServingPlace:
    """A place to listen; raises UsageError for what cannot be one."""
    plain = hosts.plain(host.removeprefix("[").removesuffix("]"))
    if plain is None:
        raise click.UsageError(
            "give --host as a name or as an address such as 192.168.1.20 or ::1, without a port"
        )
    if (certificate is None) != (key is None):
        raise click.UsageError("give --certificate and --key together")
    return ServingPlace(plain, port, certificate, key, ask)


def serve(
    bench: Bench,
    where: ServingPlace,
    copy_to: Path | None = None,
    mirror: Path | None = None,
    processes: int = 1,
) -> None:
    """Answer until interrupted; prints the address once the port is open.

    Meanwhile the history is backed up every day, and followed by a copy in the folder `copy_to` and by the
    file `mirror`.
    Beyond loopback, or with `ask`, visitors sign in; without a passphrase the server does not start then.
    """
    from kb.history.copies.mirror import Mirror
    from kb.history.copies.rounds import Rounds

    door = None if where.local and not where.ask else _door(bench)
    watches: list[Watch] = [Rounds(bench.folder, bench.shop.clock, _told, copy_to)]
    if mirror is not None:
        watches.append(
            Mirror(bench.folder / "history.db", mirror, bench.shop.clock, _told)
        )
    if processes > 1:
        _answer_with_several(bench, where, door, watches, processes)
    else:
        _Answering(bench, where, door).run(watches, watches)


def _answer_with_several(
    bench: Bench,
    where: ServingPlace,
    door: Door | None,
    watches: Sequence[Watch],
    processes: int,
) -> None:
    """Answer with a crew; its first process keeps the watches, and all tell what those fail at."""
    if sys.platform == "win32":
        raise click.UsageError("on Windows one process answers; leave --processes away")
    from webui.serving import crew

    own = _listening(where.host, where.port)
    reports = [crew.Report() for _ in watches]
    for watch, report in zip(watches, reports, strict=True):
        watch.report_to(report.write)

    def work(number: int) -> None:
        _Answering(bench, where, door, own).run([] if number else watches, reports)

    _announce(where, own.getsockname()[1])
    crew.keep(processes, work, _told)


class _Answering:
    """One process that answers; `own` is the socket that it shares with others, None where it is alone."""

    def __init__(
        self,
        bench: Bench,
        where: ServingPlace,
        door: Door | None,
        own: socket.socket | None = None,
    ) -> None:
        self._bench = bench
        self._where = where
        self._door = door
        self._own = own

    def run(self, watches: Sequence[Watch], troubled: Sequence[Troubled]) -> None:
        """Answer until interrupted, and keep these watches; the pages say what those that are `troubled` fail at."""
        from webui.app import create_app

        app = create_app(
            self._bench, trusted_hosts=hosts.answered(self._where.host), door=self._door
        )
        app.extensions["watches"] = tuple(troubled)
        server, port, close = (
            self._behind_tls(app) if self._where.certificate else self._plain(app)
        )
        # so that the first visitor finds all, if it takes no longer
        self._bench.shop.files.keep_in_background().finished(READING)
        for watch in watches:
            watch.start()
        threading.Thread(
            target=_warm, args=(self._bench,), name="warming up", daemon=True
        ).start()
        if self._own is None:
            _announce(self._where, port)
        try:
            server.run()
        finally:
            for watch in watches:
                watch.stop()
            server.close()
            close()

    def _plain(self, app: Any) -> tuple[Any, int, Callable[[], None]]:
        rules = Rules(_allowance(self._door), room_for(1))
        if self._own is not None:
            server = _server(app, rules, sockets=[self._own])
        else:
            server = _server(app, rules, host=self._where.host, port=self._where.port)
        return (
            server,
            int(getattr(server, "effective_port", self._where.port)),
            lambda: None,
        )

    def _behind_tls(self, app: Any) -> tuple[Any, int, Callable[[], None]]:
        from webui.serving import tls

        assert self._where.certificate is not None
        assert self._where.key is not None
        context = tls.context(self._where.certificate, self._where.key)
        if tls.is_open(self._where.key):
            _told(
                f"others on this computer can read {self._where.key}; close it with: chmod 600 {self._where.key}"
            )
        gate = tls.Gate(
            context, self._own or _listening(self._where.host, self._where.port)
        )
        # All visitors come in over loopback here; the gate counts those of one address.
        rules = Rules(_allowance(self._door), gate.room, of_one=gate.room)
        server = _server(gate.behind(app), rules, host="127.0.0.1", port=0)
        gate.open(server.effective_port)
        return server, gate.port, gate.close


def _warm(bench: Bench) -> None:
    """Take in what searches and reviews rest on, and spare the garbage collector from looking through it ever again.

    What was taken in stays; looking through it held every answer up for some 90 ms, once in a few hundred.
    """
    bench.asking.warm()
    bench.looking_back.warm()
    gc.collect()
    gc.freeze()


def _told(trouble: str) -> None:
    click.echo(trouble, err=True)


def _door(bench: Bench) -> Door:
    door = Door(bench.folder, bench.shop.clock)
    if not door.is_set():
        raise click.ClickException(
            f"visitors from the network need a passphrase and none is set for {bench.folder}; "
            "set one with: benchlore passphrase"
        )
    return door


def _allowance(door: Door | None) -> Allowance:
    """How long a body the sender of some headers may send; where there is no door, everybody the longest."""
    lengths = {
        Acquaintance.HERE: LONGEST_BODY,
        Acquaintance.BEFORE: OF_A_KNOWN,
        Acquaintance.NOT: OF_A_STRANGER,
    }

    def of(headers: Mapping[str, str]) -> int:
        return LONGEST_BODY if door is None else lengths[known_by(door, headers)]

    return of


def _listening(host: str, port: int) -> socket.socket:
    """A socket that listens at an address."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        return socket.create_server((host, port), family=family, backlog=BACKLOG)
    except OSError as error:
        raise _taken(host, port, error) from error


def _server(app: Any, rules: Rules, **at: Any) -> Any:
    """Waitress before an application, `at` a host and a port or at sockets that listen already."""
    from waitress.server import create_server

    # else anybody fills the log by asking often
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    try:
        server = create_server(
            app,
            **at,
            threads=THREADS,
            channel_timeout=STALLED,
            cleanup_interval=CLEANUP,
            connection_limit=rules.room + 8,
            max_request_header_size=LONGEST_HEADER,
            max_request_body_size=LONGEST_BODY,
            clear_untrusted_proxy_headers=True,
            ident="benchlore",
        )
    except OSError as error:
        raise _taken(at["host"], at["port"], error) from error
    for listening in getattr(server, "map", {0: server}).values():
        if hasattr(listening, "channel_class"):
            listening.channel_class = partial(Visitor, rules)
    return server


def _taken(host: str, port: int, error: OSError) -> click.ClickException:
    return click.ClickException(
        f"port {port} on {host} cannot be opened ({error.strerror}); give another --port"
    )


def _announce(where: ServingPlace, port: int) -> None:
    name = where.host if where.local else socket.gethostname()
    scheme = "https" if where.certificate else "http"
    with suppress(OutputLost):  # pages are answered all the same
        click.echo(
            f"Benchlore answers at {scheme}://{f'[{name}]' if ':' in name else name}:{port}/ (Ctrl-C ends it)"
        )
    if not where.local and not where.certificate:
        click.echo(
            "Passphrase and pages cross this network unencrypted; see --certificate.",
            err=True,
        )
