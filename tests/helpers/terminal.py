"""A person at a terminal: a command in a terminal of its own, typed at with pauses, read as it is shown."""

from __future__ import annotations

import os
import pty
import re
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType

from helpers.places import ROOT

#: Where the modes of a line stand in what the system tells of it; without ICANON it hands over single keys.
_LOCAL = 3


class Terminal:
    """The command line at a terminal; `setting` is Python that runs before it."""

    def __init__(
        self,
        *arguments: str,
        shop: Path,
        setting: str = "",
        env: Mapping[str, str] = {},
    ) -> None:
        self.shown = ""
        self.status: int | None = None
        program = [
            sys.executable,
            "-c",
            f"{setting}\nfrom webui.commands import main\nmain()",
            *arguments,
        ]
        around = {
            **os.environ,
            "BENCHLORE_SHOP": str(shop),
            "PYTHONPATH": str(ROOT),
            "COLUMNS": "200",
            **env,
        }
        self._process, self._line = pty.fork()
        if not self._process:
            os.execve(program[0], program, around)

    def send(self, keys: str) -> None:
        """Press these keys at once."""
        os.write(self._line, keys.encode())

    def press(self, key: str) -> None:
        """Press a key once the command waits for a single one; until then the system would throw it away."""
        while termios.tcgetattr(self._line)[_LOCAL] & termios.ICANON:
            assert not self.ended(0.02), f"it ended before {key!r}: {self.shown!r}"
        self.send(key)

    def rest(self) -> None:
        """Return once the command sleeps: an interruption between a question and the wait for its answer is seen late.

        So it is in Python itself: the signal is noted, and looked at when the next key ends the wait.
        """
        asleep = 0
        while asleep < 3:
            state = (
                Path(f"/proc/{self._process}/stat")
                .read_text()
                .rpartition(")")[2]
                .split()[0]
            )
            asleep = asleep + 1 if state == "S" else 0
            assert not self.ended(0.02), f"it ended: {self.shown!r}"

    def until(self, pattern: str, seconds: float = 60) -> str:
        """What was shown since the last call up to where the pattern fits; fails if it does not come."""
        deadline = time.monotonic() + seconds
        while not (found := re.search(pattern, self.shown)):
            assert self._read(deadline - time.monotonic()), (
                f"{pattern!r} did not come: {self.shown!r}"
            )
        told, self.shown = self.shown[: found.end()], self.shown[found.end() :]
        return told

    def ended(self, seconds: float = 0.0) -> bool:
        """Whether the command has ended, or does within so many seconds; `status` is its exit status then."""
        deadline = time.monotonic() + seconds
        while self.status is None:
            process, status = os.waitpid(self._process, os.WNOHANG)
            if process:
                self.status = os.waitstatus_to_exitcode(status)
            elif time.monotonic() > deadline:
                return False
            else:
                self._read(0.02)
        while self._read(0.02):
            pass
        return True

    def _read(self, seconds: float) -> bool:
        """Take in what was shown next; false if nothing came in time."""
        ready, _, _ = select.select([self._line], [], [], max(seconds, 0.0))
        try:
            part = os.read(self._line, 65536) if ready else b""
        except OSError:  # the other end is closed
            return False
        self.shown += part.decode("utf-8", "replace").replace("\r", "")
        return bool(part)

    def __enter__(self) -> Terminal:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if not self.ended():
            os.kill(self._process, signal.SIGKILL)
            self.ended(10)
        os.close(self._line)


def shown_at_a_terminal(command: Sequence[str], environment: Mapping[str, str]) -> str:
    """What a command that ends by itself, and well, shows at a terminal of its own."""
    mine, theirs = pty.openpty()
    with subprocess.Popen(
        command, env=environment, stdout=theirs, stdin=subprocess.DEVNULL
    ) as program:
        os.close(theirs)
        shown = b""
        try:
            while part := os.read(mine, 65536):
                shown += part
        except OSError:  # the other end is closed
            pass
        assert program.wait() == 0
    os.close(mine)
    return shown.decode().replace("\r", "")
