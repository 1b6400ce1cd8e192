"""The real program as a process of its own, and raw connections to it."""

from __future__ import annotations

import os
import re
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest
from helpers.places import ROOT

HERE = ROOT
CORPUS = HERE / "tests" / "corpus"


@dataclass
class Served:
    """A server under way: its port, its process and where its log goes."""

    port: int
    process: subprocess.Popen[bytes]
    log: Path
    secrets: ssl.SSLContext | None = None

    def connect(self, timeout: float = 10.0) -> socket.socket:
        """A connection, over TLS if that is spoken here."""
        plain = socket.create_connection(("127.0.0.1", self.port), timeout)
        return (
            self.secrets.wrap_socket(plain, server_hostname="localhost")
            if self.secrets
            else plain
        )

    def say(self, raw: bytes, timeout: float = 10.0) -> bytes:
        """All that is answered to these bytes."""
        with self.connect(timeout) as line:
            answer = b""
            with suppress(ConnectionError, ssl.SSLError):
                line.sendall(raw)
            with suppress(ConnectionError, ssl.SSLError):
                while block := line.recv(65536):
                    answer += block
            return answer

    def page(self, path: str = "/", more: str = "") -> tuple[int, bytes]:
        """The status and the whole answer for a page."""
        answer = self.say(
            f"GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n{more}\r\n".encode()
        )
        return status(answer), answer

    def memory(self) -> int:
        """Bytes held in memory."""
        found = re.search(
            r"VmRSS:\s+(\d+) kB", Path(f"/proc/{self.process.pid}/status").read_text()
        )
        assert found
        return int(found[1]) * 1024


def status(answer: bytes) -> int:
    """The status of an answer, 0 if there is none."""
    found = re.match(rb"HTTP/1\.[01] (\d{3}) ", answer)
    return int(found[1]) if found else 0


@contextmanager
def served(
    folder: Path,
    *options: str,
    secrets: ssl.SSLContext | None = None,
    setting: str = "",
    handles: int = 0,
) -> Iterator[Served]:
    """The program serving a shop on loopback until the end of the block; `handles` is how many files it may open."""
    log = folder / "server.log"
    told = f"from kb.library import shelf; from pathlib import Path; shelf.stock_folder = lambda: Path({str(CORPUS)!r})"
    if handles:
        setting += f"\nimport resource; resource.setrlimit(resource.RLIMIT_NOFILE, ({handles}, {handles}))"
    program = f"{told}\n{setting}\nfrom webui.commands import main; main(prog_name='benchlore')"
    command = [
        sys.executable,
        "-c",
        program,
        "serve",
        "--port",
        "0",
        "--shop",
        str(folder / "shop"),
        *options,
    ]
    with open(log, "wb") as out:
        process = subprocess.Popen(
            command,
            cwd=HERE,
            stdout=out,
            stderr=out,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
    try:
        yield Served(_port(log, process), process, log, secrets)
    finally:
        process.terminate()
        process.wait(10)


def _port(log: Path, process: subprocess.Popen[bytes]) -> int:
    for _ in range(300):
        if found := re.search(r"answers at https?://\S+?:(\d+)/", log.read_text()):
            return int(found[1])
        assert process.poll() is None, log.read_text()
        time.sleep(0.1)
    raise AssertionError(log.read_text())


def certified(folder: Path) -> tuple[tuple[str, ...], ssl.SSLContext]:
    """The options that name a certificate made for the occasion, and a client's context that trusts it."""
    certificate, key = folder / "c.pem", folder / "k.pem"
    made = subprocess.run(
        [
            "openssl",
            "req",
            "-x509",
            "-newkey",
            "ec",
            "-pkeyopt",
            "ec_paramgen_curve:prime256v1",
            "-nodes",
            "-days",
            "2",
            "-keyout",
            str(key),
            "-out",
            str(certificate),
            "-subj",
            "/CN=localhost",
            "-addext",
            "subjectAltName=DNS:localhost",
        ],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("no openssl here to make a certificate with")
    return (
        "--certificate",
        str(certificate),
        "--key",
        str(key),
    ), ssl.create_default_context(cafile=str(certificate))
