"""Locks on files: one holder at a time, let go by the system when it ends; nothing else stands for a lock."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from filelock import Timeout
from helpers.places import ROOT

from kb.base import locks

#: A process that takes a lock, says so, and lives until its input ends.
HOLDER = """
import sys
from pathlib import Path
from kb.base import locks
with locks.on(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def held_elsewhere(file: Path) -> subprocess.Popen[str]:
    """A process that holds the lock when this returns."""
    holder = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(file)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    return holder


def test_what_another_process_holds_is_not_had_until_that_one_is_killed(
    tmp_path: Path,
) -> None:
    file = tmp_path / ".lock"
    with held_elsewhere(file) as holder:
        with pytest.raises(Timeout):
            locks.on(file).acquire(blocking=False)
        assert issubclass(Timeout, OSError)

        holder.kill()
        holder.wait()

        with locks.on(file):
            assert [path.name for path in tmp_path.iterdir()] == [".lock"]


def test_whoever_comes_second_waits(tmp_path: Path) -> None:
    file = tmp_path / ".lock"
    order = []

    def second() -> None:
        with locks.on(file):
            order.append("second")

    waiting = threading.Thread(target=second)
    with locks.on(file):
        waiting.start()
        waiting.join(0.2)
        order.append("first")
    waiting.join(20)

    assert order == ["first", "second"]


def test_where_a_folder_takes_no_locks_that_is_an_error_and_no_file_stands_for_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import fcntl

    def refused(*_: object) -> None:
        raise OSError(errno.ENOSYS, os.strerror(errno.ENOSYS))

    monkeypatch.setattr(fcntl, "flock", refused)

    for _ in range(2):  # a file left by the first try would stand in the second's way
        with pytest.raises(OSError, match="not implemented"):
            locks.on(tmp_path / ".lock").acquire(blocking=False)


def test_the_file_of_a_lock_is_readable_by_its_owner_alone(tmp_path: Path) -> None:
    with locks.on(tmp_path / ".lock"):
        assert (tmp_path / ".lock").stat().st_mode & 0o777 == 0o600
