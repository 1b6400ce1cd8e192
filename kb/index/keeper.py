"""The keeper of an index: a thread that brings it in step, so that no visitor pays for thousands of new sheets."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable

_log = logging.getLogger("kb.index.keeper")

#: Seconds for which the keeper leaves the work to whoever asks, after it could not do it itself.
LEFT_ALONE = 60.0


class Keeper:
    """One thread that works whenever it is woken; `work` opens files of its own and closes them."""

    def __init__(self, work: Callable[[], None]) -> None:
        self._work = work
        self._woken = threading.Event()
        self._done = threading.Condition()
        self._begun = self._ended = 0
        self._failed_at = float("-inf")
        threading.Thread(target=self._run, name="index", daemon=True).start()

    def wake(self) -> bool:
        """Have the work done soon; False if it could not be done a moment ago, so that the caller does it himself."""
        if time.monotonic() - self._failed_at < LEFT_ALONE:
            return False
        self._woken.set()
        return True

    def finished(self, seconds: float) -> bool:
        """Whether the work, begun anew now, is done within so many seconds."""
        with self._done:
            turn = self._begun + 1
            self._woken.set()
            return self._done.wait_for(lambda: self._ended >= turn, seconds)

    def _run(self) -> None:
        while True:
            self._woken.wait()
            self._woken.clear()
            with self._done:
                self._begun += 1
            try:
                self._work()
            except Exception as error:
                # whatever it is, whoever asks meets it too and is told
                self._failed_at = time.monotonic()
                _log.warning(
                    "the index could not be brought in step: %s", type(error).__name__
                )
            with self._done:
                self._ended = self._begun
                self._done.notify_all()
