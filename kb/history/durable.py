"""Files that are old or new after a crash or a power cut, never torn."""

from __future__ import annotations

import os
import threading
from pathlib import Path


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
        fresh.unlink(missing_ok=True)
    if flush:
        sync_folder(path.parent)


def place_new(fresh: Path, path: Path) -> None:
    """Move a finished file to a name that must be free; raises FileExistsError if it is taken."""
    sync_file(fresh)
    try:
        os.link(fresh, path)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links: the check and the rename are two steps
        if os.path.lexists(path):
            raise FileExistsError(str(path)) from None
        os.rename(fresh, path)
    else:
        os.unlink(fresh)
    sync_folder(path.parent)


def beside(path: Path) -> Path:
    """A hidden temporary name in the same folder that no other process or thread uses."""
    return path.with_name(f".{path.name}.{os.getpid()}-{threading.get_ident()}.new")


def sync_file(path: Path) -> None:
    """Return when the file's content is on the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Return when the folder's names are on the disk; does nothing where folders cannot be opened."""
    if os.name == "nt":
        return
    sync_file(folder)
