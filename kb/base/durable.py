"""Durable files: old or new after a crash or a power cut, never torn."""

from __future__ import annotations

import os
import re
import shutil
import sys
import threading
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path

from kb.base import locks

#: The names that `beside` gives, with the process in them.
_BESIDE = re.compile(r"\..+\.(\d{1,9})-\d+\.new")

#: How the names of workshops begin, by purpose.
_WORKSHOP = ".benchlore-{}-"


def write_whole(path: Path, content: bytes, *, flush: bool = True) -> None:
    """Put `content` in place of the file; with `flush` it is on the disk when this returns.

    Raises OSError and leaves the old file.
    """
    fresh = beside(path)
    try:
        with open(fresh, "wb") as out:
            out.write(content)
            out.flush()
            if flush:
                os.fsync(out.fileno())
        os.replace(fresh, path)
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)
    if flush:
        sync_folder(path.parent)


def write_pieces(path: Path, pieces: Iterable[bytes], *, replace: bool = False) -> None:
    """Write a file of these pieces, whole or not at all; it is on the disk when this returns.

    A device or a pipe is given the pieces as they come. Raises FileExistsError if a file is there, unless it is to be
    replaced, and OSError; what was there is left then.
    """
    if path.exists() and not path.is_file() and not path.is_dir():
        with open(path, "wb") as out:
            out.writelines(pieces)
        return
    if os.path.lexists(path) and not replace:
        raise FileExistsError(str(path))
    path = path.resolve()  # a link stays one
    fresh = beside(path)
    try:
        with open(fresh, "wb") as out:
            out.writelines(pieces)
        if replace:
            sync_file(fresh)
            os.replace(fresh, path)
            sync_folder(path.parent)
        else:
            place_new(fresh, path)
    finally:
        with suppress(OSError):
            fresh.unlink(missing_ok=True)


def make_folder(folder: Path) -> None:
    """Make a folder and those above it that are missing; their names are on the disk when this returns."""
    missing = []
    while not folder.is_dir():
        missing.append(folder)
        folder = folder.parent
    for new in reversed(missing):
        new.mkdir(exist_ok=True)
        sync_folder(new.parent)


def place_new(fresh: Path, path: Path) -> None:
    """Move a finished file to a name that must be free; raises FileExistsError if it is taken."""
    sync_file(fresh)
    try:
        os.link(fresh, path)
    except FileExistsError:
        raise
    except OSError:
        # a file system without hard links: the check and the rename are two steps
        if os.path.lexists(path):
            raise FileExistsError(str(path)) from None
        os.rename(fresh, path)
    else:
        os.unlink(fresh)
    sync_folder(path.parent)


@contextmanager
def workshop(parent: Path, purpose: str) -> Iterator[Path]:
    """A hidden folder to prepare files in, gone afterwards; left-overs of processes that died are swept away.

    `parent` may be any folder of a user, so the name says whose it is, and no other program's folder is swept.
    The owner holds a lock on a file beside it, from before the folder is there until it is gone. Where a folder takes
    no locks it is prepared in all the same, and left-overs stay.
    """
    sweep(parent, purpose)
    work = parent / f"{_WORKSHOP.format(purpose)}{os.urandom(8).hex()}"
    with ExitStack() as held:
        with suppress(OSError):
            held.enter_context(_closed_to_sweepers(work))
        work.mkdir(0o700)
        try:
            yield work
        finally:
            shutil.rmtree(work, ignore_errors=True)


def sweep(parent: Path, purpose: str) -> tuple[Path, ...]:
    """Remove the workshops for that purpose that no living process works in, and name them."""
    removed = []
    found = parent.glob(_WORKSHOP.format(purpose) + "*")
    for work in sorted({path.with_suffix("") for path in found}):
        with suppress(OSError), _closed_to_sweepers(work, wait=False):
            if work.is_dir() and not work.is_symlink():
                shutil.rmtree(work, ignore_errors=True)
                removed.append(work)
    return tuple(removed)


@contextmanager
def _closed_to_sweepers(work: Path, wait: bool = True) -> Iterator[None]:
    """Hold the lock on a workshop, and clear its file away. Raises OSError, for one that another holds too."""
    file = work.with_suffix(".lock")
    with locks.on(file).acquire(blocking=wait):
        try:
            yield
        finally:
            with suppress(OSError):
                file.unlink()


def sweep_unfinished(folder: Path) -> tuple[Path, ...]:
    """Remove the temporary files of `beside` that processes which are gone have left, and name them."""
    removed = []
    for found in sorted(folder.glob(".*.new")):
        match = _BESIDE.fullmatch(found.name)
        if match and not _alive(int(match[1])):
            with suppress(OSError):
                found.unlink()
                removed.append(found)
    return tuple(removed)


def beside(path: Path) -> Path:
    """A hidden temporary name in the same folder that no other process or thread uses."""
    return path.with_name(f".{path.name}.{os.getpid()}-{threading.get_ident()}.new")


def sync_file(path: Path) -> None:
    """Return when the file's content is on the disk; Windows asks for the right to write for it."""
    handle = os.open(path, os.O_RDWR if sys.platform == "win32" else os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Return when the folder's names are on the disk; does nothing where folders cannot be opened."""
    if sys.platform != "win32":
        sync_file(folder)


def _alive(process: int) -> bool:
    """Whether a process of that number runs; on Windows, where asking would be pressing its Ctrl-C, all of them do."""
    if sys.platform == "win32":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True
