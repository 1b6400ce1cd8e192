"""The real program for the tests: pages served by a process of their own, the command line, people at browsers."""

from __future__ import annotations

import http.client
import os
import re
import select
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from urllib.parse import urlencode

from helpers.places import ROOT

from kb.history import History
from kb.history.record import Record

#: The long versions of the tests: nightly and before a release.

CORPUS = ROOT / "tests" / "corpus"
#: The real program over the small library of the tests, whose index is made in no time.
SMALL = f"from pathlib import Path; from kb.library import shelf\nshelf.stock_folder = lambda: Path({str(CORPUS)!r})\n"

ENTRY = "no-battery"
CAUSE = "no-battery/plug"
#: A cause of the shipped entries.
SHIPPED = "battery-not-detected/contact"
WORDS = "shows no battery although one is fitted"

#: A server that looks after its backups every 0.3 s.
OFTEN = "import kb.history.copies.rounds as rounds; rounds.Rounds.__init__.__defaults__ = (None, 0.3)"

#: What a person is never to see.
TRACES = ("Traceback", 'File "', "sqlite3.", "Error:", "Exception")


@dataclass(frozen=True)
class Said:
    """What a server answered."""

    status: int
    text: str
    headers: Mapping[str, str]

    @property
    def shown(self) -> str:
        """The visible text, roughly."""
        return " ".join(unescape(re.sub("<[^>]*>", " ", self.text)).split())


class Server:
    """`benchlore serve` on a shop, in a process of its own on a free port of this computer."""

    def __init__(
        self,
        shop: Path,
        *options: str,
        before: Sequence[str] = (),
        setting: str = "",
        shipped: bool = False,
        env: Mapping[str, str] = {},
    ) -> None:
        started = time.monotonic()
        self.shop = shop
        given = ["serve", "--port", "0", "--shop", str(shop), *options]
        setting = setting if shipped else SMALL + setting
        program = (
            ["-c", f"{setting}\nfrom webui.commands import main\nmain()"]
            if setting
            else ["-m", "webui"]
        )
        self.log = shop.parent / f"{shop.name}.log"
        self._log = open(self.log, "ab")  # noqa: SIM115 - closed with the server
        self.process = subprocess.Popen(
            [*before, sys.executable, *program, *given],
            cwd=ROOT,
            env={**os.environ, "PYTHONUTF8": "1", **env},
            stdout=subprocess.PIPE,
            stderr=self._log,
            start_new_session=True,
        )
        self.port = self._port()
        self.started_in = time.monotonic() - started

    def _port(self) -> int:
        assert self.process.stdout is not None
        ready, _, _ = select.select([self.process.stdout], [], [], 90)
        line = self.process.stdout.readline().decode() if ready else ""
        found = re.search(r":(\d+)/", line)
        assert found, (
            f"the server did not start: {line!r} {self.log.read_text()[-2000:]}"
        )
        return int(found[1])

    def members(self) -> list[int]:
        """The processes that it has started to answer beside each other."""
        parent = self.process.pid
        return sorted(
            map(int, Path(f"/proc/{parent}/task/{parent}/children").read_text().split())
        )

    def worked(self) -> float:
        """Seconds of processor time that it has used, which a busy machine hardly changes (proc(5))."""
        stat = Path(f"/proc/{self.process.pid}/stat").read_text()
        user, system = stat.rpartition(")")[2].split()[11:13]
        return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")

    def kill(self) -> None:
        """End it as a power button would end the process: at once, nothing flushed."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self._ended()

    def stop(self) -> str:
        """End it as Ctrl-C would; gives what it wrote to its log."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, signal.SIGINT)
            try:
                self.process.wait(20)
            except subprocess.TimeoutExpired:
                os.killpg(self.process.pid, signal.SIGKILL)
        self._ended()
        return self.log.read_text("utf-8", "replace")

    def _ended(self) -> None:
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()
        self._log.close()

    def __enter__(self) -> Server:
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()


class Browser:
    """One visitor: a connection, cookies, and forms filled in as a page gave them."""

    def __init__(self, port: int, shipped: bool = False, timeout: float = 60) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=timeout)
        self.origin = f"http://127.0.0.1:{port}"
        self.cookies: dict[str, str] = {}
        self.cause = SHIPPED if shipped else CAUSE

    def get(self, address: str, headers: Mapping[str, str] = {}) -> Said:
        """Open an address."""
        return self._ask("GET", address, None, headers)

    def post(self, address: str, fields: Mapping[str, str]) -> Said:
        """Send a form."""
        body = urlencode(fields, errors="replace").encode()
        return self._ask(
            "POST", address, body, {"Content-Type": "application/x-www-form-urlencoded"}
        )

    def token(self, address: str = "") -> str:
        """The one-time token of the form at an address, else of the one that confirms a cause."""
        said = self.get(address or f"/confirm?cause={self.cause}&model=Tern+13")
        found = re.search(r'name="token" value="([^"]+)"', said.text)
        assert found, f"no form at {address}: {said.status} {said.shown[:300]}"
        return found[1]

    def confirm(self, unit: str, token: str = "", **more: str) -> Said:
        """Save a confirmed cause for a machine with that tag."""
        fields = {
            "cause": self.cause,
            "model": "Tern 13",
            "unit": unit,
            "q": WORDS,
            "minutes": "12",
            "twice": "1",
        }
        return self.post("/confirm", {**fields, "token": token or self.token(), **more})

    def _ask(
        self, method: str, address: str, body: bytes | None, headers: Mapping[str, str]
    ) -> Said:
        sent = {
            "Origin": self.origin,
            "Cookie": "; ".join(f"{k}={v}" for k, v in self.cookies.items()),
            **headers,
        }
        try:
            self.connection.request(method, address, body, sent)
            answer = self.connection.getresponse()
            text = answer.read().decode("utf-8", "replace")
        except (OSError, http.client.HTTPException):
            self.connection.close()
            raise
        for name, value in answer.getheaders():
            if name.lower() == "set-cookie":
                key, _, rest = value.partition("=")
                self.cookies[key] = rest.partition(";")[0]
        return Said(answer.status, text, dict(answer.getheaders()))


def command(
    *arguments: str, shop: Path, timeout: float = 60, before: Sequence[str] = ()
) -> subprocess.CompletedProcess[str]:
    """The command line, run on a shop."""
    program = [sys.executable, "-c", f"{SMALL}from webui.commands import main; main()"]
    return subprocess.run(
        [*before, *program, *arguments, "--shop", str(shop)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=timeout,
        errors="replace",
        check=False,
    )


def wait_for(condition: Callable[[], bool], seconds: float = 30) -> None:
    """Return once the condition holds; fails if it does not within so many seconds."""
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, f"not within {seconds} s"
        time.sleep(0.05)


def new_shop(stock_shop: Path, place: Path) -> Path:
    """A fresh shop without a history, with an index that is built already."""
    place.mkdir(parents=True)
    shutil.copy(stock_shop / "index.db", place / "index.db")
    return place


def records(shop: Path, kind: str = "close") -> list[Record]:
    """The records of a shop, of one kind."""
    with History.open(shop / "history.db", create=False) as history:
        return list(history.records_since(0, kind))


def units(shop: Path) -> list[str]:
    """The tags of the machines in the closed jobs, in order."""
    with History.open(shop / "history.db", create=False) as history:
        return [job.unit for job in history.closed_jobs(include_retracted=True)]


def no_trace(text: str) -> bool:
    """Whether a text is for people: no traceback, no name of an inner error; commands put "Error: " before theirs."""
    said = re.sub("^Error: ", "", text, count=1, flags=re.MULTILINE)
    return not any(trace in said for trace in TRACES)
