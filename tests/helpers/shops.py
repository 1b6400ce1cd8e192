"""Folders for shops that tests make by the hundred."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def quick_folder() -> Iterator[Path]:
    """A folder that goes away afterwards, in memory where there is such a place, as flushing takes long."""
    with tempfile.TemporaryDirectory(dir="/dev/shm" if os.path.isdir("/dev/shm") else None) as folder:
        yield Path(folder)
