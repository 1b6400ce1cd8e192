"""Trouble with the history, each with a sentence that says what is wrong and what to do."""

from __future__ import annotations

import shlex
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from kb.base.trouble import Refusal, Trouble
from kb.base.worded import listed, worded
from kb.history.backups import newest_backup


class HistoryTrouble(Trouble):
    """The history cannot be used as asked; nothing was saved, and the message says what to do.

    `what` is what is wrong without the file and what to do, where that is known by itself.
    """

    what: str = ""


class NoHistory(HistoryTrouble):
    """There is no history here yet, and none was to be made."""


class HistoryLost(HistoryTrouble):
    """A history stood here and is gone, emptied or damaged: a backup has to be put back."""


class HistoryForeign(HistoryTrouble):
    """The file belongs to another shop, another program or a newer version of this one."""


class HistoryBusy(HistoryTrouble):
    """Somebody else held the history for longer than the waiting time; trying again may work."""


class DiskTrouble(HistoryTrouble):
    """The disk is full, failing or write-protected; the same history works again once that is mended."""


class BackupTrouble(HistoryTrouble):
    """A backup failed its check, while being made or while being put back."""


class UnreadableRecord(Exception):
    """The body of a record is not what this program writes; the argument is its sequence number."""


class UnknownJob(Refusal):
    """No job has this id."""


class AmbiguousJob(Refusal):
    """More than one job begins with these characters."""


class JobClosed(Refusal):
    """The job already has its confirmed cause."""


class JobRetracted(Refusal):
    """The job has been retracted."""


class NotAccepted(Refusal):
    """A value that the history does not take: what is wrong with it, and what to write instead."""

    def __init__(self, problem: str, instead: str) -> None:
        super().__init__(listed([problem, instead]))
        self.problem = problem
        self.instead = instead


class ClockDoubt(Refusal):
    """The clock looks wrong and nobody said that it is right: nothing was saved with its date."""


def lost(path: Path, what: str) -> HistoryLost:
    """The trouble of a history that is gone or damaged, with the command that puts the last backup back."""
    trouble = HistoryLost(
        worded(
            "{path}: {what}; put the last backup back with: {command}",
            path=path,
            what=what,
            command=restore_command(path),
        )
    )
    trouble.what = what
    return trouble


def foreign(path: Path, what: str, todo: str) -> HistoryForeign:
    """The trouble of a file that is not this shop's history, with what to do and the restore command."""
    return HistoryForeign(
        worded(
            "{path}: {what}; {todo}, or put a backup in its place with: {command} --replace",
            path=path,
            what=what,
            todo=todo,
            command=restore_command(path),
        )
    )


def restore_command(path: Path) -> str:
    """The exact command that puts a backup in place of this history; names the newest daily backup."""
    found = newest_backup(path)
    file = shlex.quote(str(found)) if found else "FILE"
    return f"benchlore restore {file} --shop {shlex.quote(str(path.parent))}"


@contextmanager
def in_plain_words(path: Path) -> Iterator[None]:
    """Turn whatever the database or the disk says about the history at `path` into a HistoryTrouble."""
    try:
        yield
    except sqlite3.ProgrammingError:
        raise
    except UnreadableRecord as error:
        raise lost(path, worded("record {error} is damaged", error=error)) from error
    except (sqlite3.Error, UnicodeDecodeError) as error:
        # the latter from a message that quotes damaged text
        raise _translated(error, path) from error
    except OSError as error:
        raise DiskTrouble(
            worded(
                "{path}: {strerror}; nothing saved; mend the disk, its space or its permissions and try again",
                path=path,
                strerror=error.strerror or error,
            )
        ) from error


def _translated(error: Exception, path: Path) -> HistoryTrouble:
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT)
    name = getattr(error, "sqlite_errorname", worded("unreadable text"))
    of_the_disk = _of_the_disk(code, name, path)
    if of_the_disk:
        return DiskTrouble(of_the_disk)
    match code & 0xFF:
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return HistoryBusy(
                worded("{path}: history busy, nothing saved; try again", path=path)
            )
        case sqlite3.SQLITE_NOMEM | sqlite3.SQLITE_INTERRUPT | sqlite3.SQLITE_TOOBIG:
            return HistoryTrouble(
                worded(
                    "{path}: {error}, nothing saved; try again", path=path, error=error
                )
            )
    damage = worded("the history is damaged ({name}: {error})", name=name, error=error)
    return lost(path, damage)


def _of_the_disk(code: int, name: str, path: Path) -> str:
    """What the disk or its permissions have refused, by SQLite's extended result code; empty for another trouble."""
    if code == sqlite3.SQLITE_READONLY_DBMOVED:
        return worded(
            "{path}: the history was moved or replaced meanwhile; nothing saved; try again",
            path=path,
        )
    match code & 0xFF:
        case sqlite3.SQLITE_FULL:
            return worded(
                "{path}: the disk is full, nothing saved; make room and try again",
                path=path,
            )
        case sqlite3.SQLITE_IOERR:
            return worded(
                "{path}: the disk did not take or give the data ({name}), it is full or failing; nothing "
                "saved; make room and try again",
                path=path,
                name=name,
            )
        case sqlite3.SQLITE_READONLY:
            return worded(
                "{path}: the history is write-protected, nothing saved; allow writing to the file and its folder",
                path=path,
            )
        case sqlite3.SQLITE_CANTOPEN | sqlite3.SQLITE_PERM | sqlite3.SQLITE_AUTH:
            return worded(
                "{path}: the history cannot be opened; allow reading the file and its folder",
                path=path,
            )
    return ""
