"""Durable files: old or new, never torn, and nothing of other programs is swept away."""

from __future__ import annotations

import errno
import fcntl
import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.base import durable


def torn() -> Iterator[bytes]:
    yield b"half of "
    raise OSError("the disk is full")


def test_a_file_is_replaced_whole_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    file = tmp_path / "words.toml"
    file.write_bytes(b"old")

    durable.write_whole(file, b"new")

    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {
        "words.toml": b"new"
    }


def test_a_file_that_cannot_be_finished_leaves_the_old_one(tmp_path: Path) -> None:
    file = tmp_path / "jobs.csv"
    file.write_bytes(b"old")

    with pytest.raises(OSError, match="the disk is full"):
        durable.write_pieces(file, torn(), replace=True)

    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {
        "jobs.csv": b"old"
    }


def test_a_name_that_is_taken_is_kept_unless_it_is_to_be_replaced(
    tmp_path: Path,
) -> None:
    file = tmp_path / "jobs.csv"
    file.write_bytes(b"old")

    with pytest.raises(FileExistsError):
        durable.write_pieces(file, [b"new"])
    assert file.read_bytes() == b"old"

    durable.write_pieces(file, [b"ne", b"w"], replace=True)
    assert file.read_bytes() == b"new"


def test_a_finished_file_takes_no_name_that_is_taken(tmp_path: Path) -> None:
    fresh, there = tmp_path / "fresh", tmp_path / "there"
    fresh.write_bytes(b"new")
    there.write_bytes(b"old")

    with pytest.raises(FileExistsError):
        durable.place_new(fresh, there)

    assert (fresh.read_bytes(), there.read_bytes()) == (b"new", b"old")


def test_temporary_files_of_a_process_that_is_gone_are_swept_and_no_others(
    tmp_path: Path,
) -> None:
    # above the highest number of a process that Linux gives (proc(5), pid_max)
    gone = 2**22 + 1
    left, mine, strange = (
        tmp_path / f".a.{gone}-1.new",
        durable.beside(tmp_path / "a"),
        tmp_path / ".a.other.new",
    )
    for path in (left, mine, strange):
        path.touch()

    assert durable.sweep_unfinished(tmp_path) == (left,)

    assert sorted(tmp_path.iterdir()) == sorted([mine, strange])


def test_a_workshop_in_use_is_not_swept_and_goes_away_afterwards(
    tmp_path: Path,
) -> None:
    left = tmp_path / ".benchlore-backup-left"
    left.mkdir()

    with durable.workshop(tmp_path, "backup") as work:
        assert not left.exists()
        assert durable.sweep(tmp_path, "backup") == ()
        assert work.is_dir()

    assert os.listdir(tmp_path) == []


def test_a_lock_that_a_killed_process_left_beside_no_workshop_is_swept_too(
    tmp_path: Path,
) -> None:
    (tmp_path / ".benchlore-backup-left.lock").touch()

    assert durable.sweep(tmp_path, "backup") == ()

    assert os.listdir(tmp_path) == []


def test_where_a_folder_takes_no_locks_workshops_are_made_and_never_swept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = tmp_path / ".benchlore-backup-left"
    left.mkdir()

    def refused(*_: object) -> None:
        raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))

    monkeypatch.setattr(fcntl, "flock", refused)

    with durable.workshop(tmp_path, "backup") as work:
        assert durable.sweep(tmp_path, "backup") == ()
        assert work.is_dir()

    assert left.is_dir()
    assert not work.exists()


def test_on_windows_no_process_is_asked_whether_it_lives(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # os.kill(number, 0) is CTRL_C_EVENT there (documentation of Python, os.kill)
    file = tmp_path / f".a.{os.getpid()}-1.new"
    file.touch()
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(os, "kill", lambda *_: pytest.fail("a signal was sent"))

    assert durable.sweep_unfinished(tmp_path) == ()
