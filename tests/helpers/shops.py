"""Shops of tests: the one that a file is marked with, and folders for those that are made by the hundred."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from kb.base import disks
from kb.bench.front import Bench


@contextmanager
def quick_folder() -> Iterator[Path]:
    """A folder that goes away afterwards, in memory where there is such a place, as flushing takes long."""
    with tempfile.TemporaryDirectory(
        dir="/dev/shm" if os.path.isdir("/dev/shm") else None
    ) as folder:
        yield Path(folder)


@contextmanager
def on_another_disk(place: Path) -> Iterator[Path]:
    """A folder that goes away afterwards, on another file system than that place; without one the test is skipped."""
    others = [
        one
        for one in ("/dev/shm", "/var/tmp")
        if os.path.isdir(one) and not disks.same_disk(Path(one), place)
    ]
    if not others:
        pytest.skip("there is no second file system here")
    with tempfile.TemporaryDirectory(dir=others[0]) as folder:
        yield Path(folder)


def shop_of(request: pytest.FixtureRequest, usual: str) -> Bench:
    """The shop of the fixture that a test or its file is marked with (`pytest.mark.shop("stocked")`), else `usual`."""
    mark = request.node.get_closest_marker("shop")
    found = request.getfixturevalue(mark.args[0] if mark else usual)
    assert isinstance(found, Bench)
    return found
