"""Strangers without a passphrase: they hold connections, send slowly, send much, open more than there are handles."""

from __future__ import annotations

import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

import pytest
from helpers.shops import quick_folder

from security.serving import Served, certified, served, status
from webui.guard.door import Door, Right

GOOD = "four plain words here"
PATIENCE = """
import webui.serving.server as server, webui.serving.visitors as visitors
server.STALLED, server.CLEANUP, visitors.LEAST_RATE = 2, 1, 1000
"""


@contextmanager
def guarded(over: str, setting: str = "", handles: int = 0) -> Iterator[Served]:
    """A server with a door, over TLS or not."""
    with quick_folder() as folder:
        options, trusted = certified(folder) if over == "coded" else ((), None)
        Door(folder / "shop").set_passphrase(Right.WRITE, GOOD)
        with served(
            folder, *options, "--ask", secrets=trusted, setting=setting, handles=handles
        ) as server:
            yield server


@contextmanager
def dripping(server: Served, number: int) -> Iterator[None]:
    """So many connections that each send a byte of a header now and then, and come again when they are dropped."""
    over, all_came, lines = (
        threading.Event(),
        threading.Event(),
        dict[int, socket.socket](),
    )

    def drip() -> None:
        while not over.is_set():
            for each in range(number):
                if over.is_set():
                    break
                try:
                    if each not in lines:
                        lines[each] = socket.create_connection(
                            ("127.0.0.1", server.port), 5
                        )
                        lines[each].sendall(
                            b""
                            if server.secrets
                            else b"GET / HTTP/1.1\r\nHost: localhost\r\nX: "
                        )
                    lines[each].sendall(b"" if server.secrets else b"a")
                except OSError:
                    lines.pop(each).close() if each in lines else None
            all_came.set()
            over.wait(0.5)

    worker = threading.Thread(target=drip)
    worker.start()
    try:
        assert all_came.wait(60)
        yield
    finally:
        over.set()
        worker.join()
        for line in lines.values():
            line.close()


@pytest.mark.parametrize(("over", "number"), [("plain", 520), ("coded", 260)])
def test_no_number_of_slow_strangers_keeps_a_page_from_anybody(
    over: str, number: int
) -> None:
    """Over TLS they do not even begin the handshake."""
    with guarded(over) as server, dripping(server, number):
        answered = []
        for _ in range(20):
            with suppress(OSError):
                answered.append(server.page("/enter")[0])

    assert answered == [200] * 20


@pytest.mark.parametrize("over", ["plain", "coded"])
def test_a_byte_now_and_then_keeps_no_connection(over: str) -> None:
    """Neither in a header nor in a body; a body that comes steadily is taken."""
    slow_header = b"GET / HTTP/1.1\r\nHost: localhost\r\nX: "
    slow_body = (
        b"POST /enter HTTP/1.1\r\nHost: localhost\r\nContent-Length: 60000\r\n\r\n"
    )
    with guarded(over, PATIENCE) as server:
        held = [
            _seconds_held(server, begun, b"a", 0.2)
            for begun in (slow_header, slow_body)
        ]
        steady = _seconds_held(server, slow_body, b"a" * 1000, 0.2, enough=7)

    assert max(held) < 8
    assert steady > 2 * 2 + 2  # longer than any patience without the bytes that came


def _seconds_held(
    server: Served, begun: bytes, more: bytes, pause: float, enough: float = 12
) -> float:
    """For how long a connection is held that sends a little now and then; ends with the first answer."""
    started = time.monotonic()
    with server.connect() as line, suppress(OSError):
        line.sendall(begun)
        line.settimeout(pause)
        while time.monotonic() - started < enough:
            line.sendall(more)
            with suppress(TimeoutError):
                line.recv(1)
                break
    return time.monotonic() - started


@pytest.mark.parametrize("how", ["announced", "in chunks"])
def test_what_strangers_send_is_refused_before_it_is_kept(how: str) -> None:
    head = b"POST /enter HTTP/1.1\r\nHost: localhost\r\nOrigin: http://localhost\r\n"
    announced = head + b"Content-Length: 15900000\r\n\r\n"
    chunked = head + b"Transfer-Encoding: chunked\r\n\r\n1000000\r\n"
    with guarded("plain") as server, ExitStack() as held:
        lines = [held.enter_context(server.connect()) for _ in range(8)]
        for line in lines:
            with suppress(OSError):
                line.sendall(announced if how == "announced" else chunked)
                line.sendall(b"a" * 2_000_000)
        assert _in_files(server) == 0
        for line in lines:
            with suppress(OSError):
                assert status(line.recv(100)) in (0, 413)


def test_whoever_signed_in_may_send_a_picture_and_a_known_browser_a_form() -> None:
    with guarded("plain") as server:
        door = Door(server.log.parent / "shop")
        session, browser = door.enter(GOOD, "192.0.2.7")[0], door.remember_browser()
        told = {
            (cookie, length): _told(server, cookie, length)
            for cookie in (
                "",
                f"benchlore-known={browser}",
                f"benchlore-session={session}",
            )
            for length in (60_000, 200_000, 4_000_000)
        }

    refused = [
        (cookie.partition("=")[0], length)
        for (cookie, length), said in told.items()
        if said == 413
    ]
    assert refused == [("", 200_000), ("", 4_000_000), ("benchlore-known", 4_000_000)]


def _told(server: Served, cookie: str, length: int) -> int:
    """What is answered to a picture of that length before it is sent whole: 0 if the rest is waited for."""
    head = f"POST /entry/no-battery/pictures HTTP/1.1\r\nHost: localhost\r\nCookie: {cookie}\r\n"
    with server.connect() as line:
        line.sendall(f"{head}Content-Length: {length}\r\n\r\nabc".encode())
        line.settimeout(1)
        try:
            return status(line.recv(1000))
        except TimeoutError:
            return 0


def _in_files(server: Served) -> int:
    """Bytes in temporary files of the server, which have no name."""
    folder, total = Path(f"/proc/{server.process.pid}/fd"), 0
    for handle in folder.iterdir():
        with suppress(OSError):
            if "(deleted)" in os.readlink(handle):
                total += handle.stat().st_size
    return total


@pytest.mark.parametrize("handles", [64, 90])
def test_out_of_file_handles_the_log_stays_short_and_pages_are_answered(
    handles: int,
) -> None:
    with guarded("plain", handles=handles) as server:
        with ExitStack() as held:
            for _ in range(150):
                with suppress(OSError):
                    held.enter_context(server.connect(1)).sendall(
                        b"GET / HTTP/1.1\r\nHost: loc"
                    )
            answered = [server.page("/enter")[0] for _ in range(5)]
            time.sleep(1)
        log = server.log.read_text()

    assert answered == [200] * 5
    assert len(log) < 10_000, log[-1500:]
