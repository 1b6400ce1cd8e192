"""A look taken again and again in a thread of its own; every trouble is said once, none ends the watch."""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from collections.abc import Callable
from contextlib import suppress
from typing import Protocol

from kb.base.trouble import Refusal
from kb.history.trouble import HistoryTrouble


class Troubled(Protocol):
    """Whatever can say what it failed at."""

    @property
    def trouble(self) -> str:
        """What is said of the last look if it failed, empty if it went well."""


class Watch(ABC):
    """Takes its look now and after every pause of `every` seconds, after a trouble of `rest`, until stopped.

    A trouble is told to `say` after the words `failed`, and not again until a look went well or failed otherwise.
    Only the end of the program ends it: not even a fault of the program, or want of memory.
    """

    def __init__(
        self,
        name: str,
        failed: str,
        say: Callable[[str], None],
        every: float,
        rest: float,
    ) -> None:
        self._failed = failed
        self._say = say
        self._every = every
        self._rest = rest
        self._trouble = ""
        self._report: Callable[[str], object] = str
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    @property
    def trouble(self) -> str:
        """What is said of the last look if it failed, empty if it went well."""
        return self._trouble

    @abstractmethod
    def look(self) -> None:
        """One look. May raise anything; HistoryTrouble, Refusal, OSError and ValueError say what a person can do."""

    def report_to(self, write: Callable[[str], None]) -> None:
        """Have the trouble, or the empty text that there is none, written after each look, for other processes."""
        self._report = write

    def start(self) -> None:
        """Begin: once now, then after every pause."""
        self._thread.start()

    def stop(self) -> None:
        """End after the look that is just being taken, or leave it to itself if it takes long."""
        self._end.set()
        self._thread.join(timeout=10)

    def look_and_tell(self) -> None:
        """One look, its trouble said instead of raised."""
        try:
            self.look()
            self._trouble = ""
        except (HistoryTrouble, Refusal, OSError, ValueError) as trouble:
            self._failing(str(trouble))
        except MemoryError:
            self._failing("there was not enough memory; it is tried again")
        except Exception as fault:
            # named without its text, which may be another one each time
            self._failing(
                f"a fault of the program ({type(fault).__name__}); it is tried again"
            )
        self._report(self._trouble)

    def tell(self, sentence: str) -> None:
        """Say something to whoever can be reached: the terminal it is said to may be gone."""
        with suppress(Exception):
            self._say(sentence)

    def _failing(self, trouble: str) -> None:
        told, before = f"{self._failed}: {trouble}", self._trouble
        self._trouble = told
        if told != before:
            self.tell(told)

    def _run(self) -> None:
        while not self._end.is_set():
            # putting a trouble into words can meet want of memory too
            with suppress(Exception):
                self.look_and_tell()
            self._end.wait(self._rest if self._trouble else self._every)
