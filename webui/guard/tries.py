"""Wrong tries at the door in the log: one line a minute and address says how many there were, never what was typed."""

from __future__ import annotations

import logging
import threading
from collections import Counter

#: Seconds for which wrong tries are gathered, and the most addresses named by themselves.
GATHERED, MOST_NAMED = 60.0, 20

_log = logging.getLogger("webui.guard.tries")
_lock = threading.Lock()
_gathered: Counter[str] = Counter()


def note(address: str) -> None:
    """Count a try that let nobody in; the first of a minute has all of that minute written to the log at its end."""
    with _lock:
        first = not _gathered
        _gathered[address] += 1
    if first:
        teller = threading.Timer(GATHERED, tell)
        teller.daemon = True
        teller.start()


def tell() -> None:
    """Write what was gathered to the log and begin anew."""
    with _lock:
        told = _gathered.most_common()
        _gathered.clear()
    for address, count in told[:MOST_NAMED]:
        _log.warning(
            "%d tries to sign in from %s were refused within a minute",
            count,
            address[:45],
        )
    others = sum(count for _, count in told[MOST_NAMED:])
    if others:
        _log.warning("%d more from %d other addresses", others, len(told) - MOST_NAMED)
