"""A look taken again and again in a thread of its own; every trouble is said once, none ends it."""

from __future__ import annotations

import threading
from abc import ABC, abstractmethod
from collections.abc import Callable
from contextlib import suppress

from kb.history.trouble import HistoryTrouble, Refusal


class Watch(ABC):
    """Takes its look now and after every pause of `every` seconds, after a trouble of `rest`, until stopped.

    A trouble is told to `say` after the words `failed`, and not again until a look went well or failed otherwise.
    """

    def __init__(self, name: str, failed: str, say: Callable[[str], None], every: float, rest: float) -> None:
        self._failed = failed
        self._say = say
        self._every = every
        self._rest = rest
        self._said = ""
        self._end = threading.Event()
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    @abstractmethod
    def look(self) -> None:
        """One look. May raise HistoryTrouble, Refusal, OSError or ValueError."""

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
            self._said = ""
        except (HistoryTrouble, Refusal, OSError, ValueError) as trouble:
            if str(trouble) != self._said:
                self._said = str(trouble)
                with suppress(OSError, ValueError):  # the terminal it is said to may be gone
                    self._say(f"{self._failed}: {trouble}")

    def _run(self) -> None:
        while not self._end.is_set():
            self.look_and_tell()
            self._end.wait(self._rest if self._said else self._every)
