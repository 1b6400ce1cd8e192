"""TLS before the server: connections are decrypted here and handed on over loopback, one for one.

A stalled or silent visitor costs a waiting task and no thread, and everything about HTTP (limits, time-outs, malformed
requests) is decided in one place, as without TLS. Measured before choosing: sockets wrapped by `ssl` end the server's
loop at the first visitor who says nothing, and a threaded TLS server stood still over 15 s for three of them.
"""

from __future__ import annotations

import asyncio
import logging
import os
import socket
import ssl
import threading
from collections.abc import Callable, Iterable
from contextlib import suppress
from pathlib import Path
from typing import Any

from kb.base.trouble import Refusal
from webui.serving.visitors import OF_ONE_ADDRESS, Caller, let_go_for, room_for

#: Seconds for the handshake and until a visitor who takes nothing is dropped; the most visitors at once, each of whom
#: takes three file handles.
HANDSHAKE, STALLED, VISITORS, EACH = 10.0, 20.0, 200, 3
#: Suites of TLS 1.2 that seal what they encrypt (AEAD, as all of TLS 1.3 do) under keys of one connection alone.
SEALING = "ECDHE+AESGCM:ECDHE+CHACHA20"
#: Seconds until the next visitor is looked for where none could be let in.
_PAUSE = 0.2
_BLOCK = 64 * 1024

_log = logging.getLogger("webui.serving.tls")


def context(certificate: Path, key: Path) -> ssl.SSLContext:
    """What is needed to answer over TLS 1.2 or newer; raises Refusal for files that do not serve."""

    def no_password() -> str:
        raise Refusal(
            f"{key} is locked with a password; give a key without one, readable by its owner alone"
        )

    made = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    made.minimum_version = ssl.TLSVersion.TLSv1_2
    made.set_ciphers(SEALING)
    try:
        made.load_cert_chain(certificate, key, password=no_password)
    except (ssl.SSLError, OSError) as error:
        raise Refusal(
            f"{certificate} and {key} are no certificate with its key ({error.strerror or error}); "
            "give both as PEM files, the certificate with its chain"
        ) from error
    return made


def is_open(key: Path) -> bool:
    """Whether everybody on this computer may read a key; whoever does can listen along, or answer in this name."""
    return os.name != "nt" and bool(key.stat().st_mode & 0o004)


class Gate:
    """The TLS side of a server: takes visitors in on a listening socket and hands them on to a port on loopback.

    `behind` wraps the application, so that it sees the visitors' own addresses and answers nobody else.
    """

    def __init__(self, secrets: ssl.SSLContext, own: socket.socket) -> None:
        self._context = secrets
        self._own = own
        self.port: int = own.getsockname()[1]
        self._visitors: dict[int, str] = {}
        self._held: dict[asyncio.Task[None], Caller] = {}
        self.room = room_for(EACH, VISITORS)
        self._inner = 0
        self._loop = asyncio.new_event_loop()
        self._loop.set_exception_handler(_told)
        self._thread = threading.Thread(target=self._run, name="tls", daemon=True)

    def open(self, inner: int) -> None:
        """Begin to hand visitors on to this port."""
        self._inner = inner
        self._thread.start()

    def close(self) -> None:
        """Let all visitors go."""
        if self._thread.is_alive():
            self._loop.call_soon_threadsafe(self._loop.stop)
            self._thread.join(5)
        self._own.close()

    def behind(
        self, application: Callable[..., Iterable[bytes]]
    ) -> Callable[..., Iterable[bytes]]:
        """The application for visitors of this gate alone: others on this computer cannot go round it."""

        def answer(
            environ: dict[str, Any], start: Callable[..., Any]
        ) -> Iterable[bytes]:
            visitor = self._visitors.get(int(environ.get("REMOTE_PORT") or 0))
            if visitor is None:
                start(
                    "403 Forbidden",
                    [("Content-Type", "text/plain"), ("Content-Length", "0")],
                )
                return [b""]
            environ.update(
                {
                    "REMOTE_ADDR": visitor,
                    "REMOTE_HOST": visitor,
                    "wsgi.url_scheme": "https",
                }
            )
            return application(environ, start)

        return answer

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        self._own.setblocking(False)
        self._door = self._loop.create_task(self._let_in())
        self._loop.run_forever()

    async def _let_in(self) -> None:
        """Let visitors in for as long as the loop runs; who has waited longest makes room."""
        while True:
            try:
                own, peer = await self._loop.sock_accept(self._own)
            except OSError:  # out of file handles, or a visitor who has gone already
                await asyncio.sleep(_PAUSE)
                continue
            came = Caller(str(peer[0]), self._loop.time(), own.fileno())
            leaves = let_go_for(
                came.address,
                self._held.values(),
                len(self._held),
                self.room,
                OF_ONE_ADDRESS,
            )
            for task in [task for task, one in self._held.items() if one == leaves]:
                task.cancel()
            visit = self._loop.create_task(self._visit(own, came.address))
            self._held[visit] = came
            visit.add_done_callback(lambda done: self._held.pop(done, None))

    async def _visit(self, visitor: socket.socket, peer: str) -> None:
        """One visitor from the handshake to the end."""
        with socket.socket() as own, suppress(OSError, EOFError):
            own.setblocking(False)
            own.bind(("127.0.0.1", 0))
            number = own.getsockname()[1]
            outside = await self._shaken(visitor)
            # before connecting, so that the first request finds it
            self._visitors[number] = peer
            try:
                await self._loop.sock_connect(own, ("127.0.0.1", self._inner))
                await _both_ways(outside, await asyncio.open_connection(sock=own))
            finally:
                self._visitors.pop(number, None)
                outside[1].close()

    async def _shaken(self, visitor: socket.socket) -> Ends:
        """Both directions of a visitor after the handshake."""
        reader = asyncio.StreamReader(loop=self._loop)
        protocol = asyncio.StreamReaderProtocol(reader, loop=self._loop)
        transport, _ = await self._loop.connect_accepted_socket(
            lambda: protocol,
            visitor,
            ssl=self._context,
            ssl_handshake_timeout=HANDSHAKE,
            ssl_shutdown_timeout=2.0,
        )
        return reader, asyncio.StreamWriter(transport, protocol, reader, self._loop)


Ends = tuple[asyncio.StreamReader, asyncio.StreamWriter]


async def _both_ways(outside: Ends, inside: Ends) -> None:
    """Carry bytes both ways until either side ends; what was on its way is delivered."""
    ways = [
        asyncio.create_task(_carry(outside[0], inside[1])),
        asyncio.create_task(_carry(inside[0], outside[1])),
    ]
    try:
        await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
    finally:
        for way in ways:
            way.cancel()
        await asyncio.gather(*ways, return_exceptions=True)
        inside[1].close()


async def _carry(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    with suppress(OSError, TimeoutError):
        while block := await reader.read(_BLOCK):
            writer.write(block)
            async with asyncio.timeout(STALLED):
                await writer.drain()


def _told(_: asyncio.AbstractEventLoop, happened: dict[str, Any]) -> None:
    """One line for what went wrong with a visitor, without what they sent."""
    error = happened.get("exception")
    if not isinstance(error, OSError | EOFError):
        _log.warning(
            "tls: %s", type(error).__name__ if error else "a visitor was dropped"
        )
