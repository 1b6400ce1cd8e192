"""Locks on files, by which programs beside each other keep out of each other's way.

The kept library knows how each system does it. The system lets go of a lock when the process that holds it ends,
however it ends. On a share a lock may do nothing (`kb/base/shares.py`); where a folder takes none at all, that is an
OSError, and no file that merely stands for a lock takes its place: nobody would clear it away after a killed process.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from filelock import BaseFileLock

#: Seconds between two looks whether a lock that another holds has become free.
EVERY = 0.01


def on(file: Path) -> BaseFileLock:
    """The lock on a file, which is made for it; entered it waits for whoever holds it. Raises OSError.

    The library is loaded where a lock is needed and nowhere else: it takes 17 ms of processor time.
    """
    from filelock import FileLock

    return FileLock(file, mode=0o600, poll_interval=EVERY, fallback_to_soft=False)
