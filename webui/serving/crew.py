"""A crew: several processes that answer at one address, so that one interpreter is not the limit of a large shop.

All of them stand on one listening socket, and the system gives each visitor to one that has time. They share nothing
else but the shop's folder, as servers and commands beside each other always do, and what the watches of the first
one report. The process that started them answers nobody: it starts anew who ends, and ends all when it is ended.
"""

from __future__ import annotations

import mmap
import os
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import NoReturn

from kb.base.trouble import Refusal

assert sys.platform != "win32"  # a process of Windows cannot go on as two

#: A process that ended within so many seconds has hardly worked; after so many such ends in a row nobody tries again.
AT_ONCE, TOO_MANY = 5.0, 5
#: Seconds before a process is started anew, and until those that are to end are killed.
PAUSE, PATIENCE = 1.0, 10.0

#: What a process of the crew does, given its number from 0 on, until it is ended.
Work = Callable[[int], None]


class Report:
    """A sentence that one process writes and all of them read, in memory that they share once they are forked."""

    _ROOM = 4096

    def __init__(self) -> None:
        self._memory = mmap.mmap(-1, self._ROOM)

    def write(self, sentence: str) -> None:
        """Put a sentence in place of the one before; what is too long for the room is cut."""
        text = sentence.encode(errors="replace")[: self._ROOM - 1] + b"\0"
        self._memory[: len(text)] = text

    @property
    def trouble(self) -> str:
        """The sentence that was written last, empty if none was."""
        return self._memory[:].partition(b"\0")[0].decode(errors="ignore")


@dataclass(frozen=True, slots=True)
class _Member:
    """One process of the crew: its number, and since when it runs."""

    number: int
    since: float


def keep(count: int, work: Work, say: Callable[[str], None]) -> None:
    """Let so many processes work until this one is interrupted (it returns) or terminated (it ends by that signal).

    What ends and is started anew is told to `say`. Nothing may run in other threads here before. Raises Refusal where
    they end as soon as they are started.
    """
    crew = _Crew(work, say)
    try:
        with _terminated_as_interrupted() as terminated:
            crew.keep(count)
    except KeyboardInterrupt:
        if terminated.is_set():
            os.kill(os.getpid(), signal.SIGTERM)


class _Crew:
    def __init__(self, work: Work, say: Callable[[str], None]) -> None:
        self._work = work
        self._say = say
        self._members: dict[int, _Member] = {}
        # the second end is held by this process alone, and closes with it
        self._alive, self._held = os.pipe()

    def keep(self, count: int) -> None:
        failures = 0
        try:
            for number in range(count):
                self._start(number)
            while failures < TOO_MANY:
                process, status = os.wait()
                gone = self._members.pop(process)
                failures = (
                    failures + 1 if time.monotonic() - gone.since < AT_ONCE else 0
                )
                self._tell(gone.number, os.waitstatus_to_exitcode(status))
                time.sleep(PAUSE)
                self._start(gone.number)
        finally:
            self._end()
        raise Refusal(
            "the processes that should answer end as soon as they start; see what they said"
        )

    def _tell(self, number: int, status: int) -> None:
        how = f"signal {-status}" if status < 0 else f"status {status}"
        with suppress(Exception):  # whoever listened may be gone
            self._say(
                f"process {number + 1} of the server ended ({how}); it is started anew"
            )

    def _start(self, number: int) -> None:
        process = os.fork()
        if not process:
            self._answer(number)
        self._members[process] = _Member(number, time.monotonic())

    def _answer(self, number: int) -> NoReturn:
        """What the new process does; it never comes back to what its parent was doing."""
        status = 1
        try:
            # Ctrl-C reaches everybody; the parent passes it on
            signal.signal(signal.SIGINT, signal.SIG_IGN)
            signal.signal(signal.SIGTERM, _leave)
            os.close(self._held)
            threading.Thread(
                target=_leave_with_the_parent, args=(self._alive,), daemon=True
            ).start()
            self._work(number)
            status = 0
        except SystemExit:
            status = 0
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(status)

    def _end(self) -> None:
        """Ask all that are left to end, and after some patience make them."""
        for process in self._members:
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGTERM)
        until = time.monotonic() + PATIENCE
        while self._members and time.monotonic() < until:
            ended, _ = os.waitpid(-1, os.WNOHANG)
            if not self._members.pop(ended, None):
                time.sleep(0.02)
        for process in self._members:
            os.kill(process, signal.SIGKILL)
            os.waitpid(process, 0)


@contextmanager
def _terminated_as_interrupted() -> Iterator[threading.Event]:
    """Meanwhile a signal to terminate raises KeyboardInterrupt, and the event says that it came."""
    came = threading.Event()

    def interrupt(*_: object) -> None:
        came.set()
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield came
    finally:
        signal.signal(signal.SIGTERM, before)


def _leave(*_: object) -> None:
    raise SystemExit


def _leave_with_the_parent(alive: int) -> None:
    """End this process once the one that started it is gone, whatever ended that one."""
    os.read(alive, 1)
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(PATIENCE)
    os._exit(1)
