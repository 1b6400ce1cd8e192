"""The house files: lists that a shop may overlay with its own, such as the check-out and the parts of a machine."""

from __future__ import annotations

import os
from functools import lru_cache
from pathlib import Path

from kb.base.trouble import NotThere
from kb.library import checklist, machine
from kb.library.checklist import CheckList
from kb.library.customs import FOLDER
from kb.library.machine import CompleteMachine
from kb.library.shelf import Shelf

CHECKOUT, MACHINE = "checkout.md", "machine.md"


def file_of(shelf: Shelf, name: str) -> Path:
    """The house file of that name: the shop's own if there is one, else the stock's, else the shipped one's.

    Raises NotThere where none of them is.
    """
    from kb.library.shelf import stock_folder

    for folder in (shelf.own, shelf.stock, stock_folder()):
        if folder is not None and (found := folder / FOLDER / name).is_file():
            return found
    raise NotThere(f"the list {name} is missing; install Benchlore again")


def check_list(shelf: Shelf) -> CheckList:
    """The check-out list in force, with every problem named by line; read again when its file changes.

    Raises NotThere, or OSError if the disk does not give it.
    """
    return _check_list(*_file_now(shelf, CHECKOUT))


def complete_machine(shelf: Shelf) -> CompleteMachine:
    """The parts that a complete machine consists of, with every problem named by line; read again when it changes.

    Raises NotThere, or OSError if the disk does not give it.
    """
    return _machine(*_file_now(shelf, MACHINE))


def _file_now(shelf: Shelf, name: str) -> tuple[Path, tuple[int, int]]:
    """The house file of that name, and what tells its text from an earlier one."""
    file = file_of(shelf, name)
    status = os.stat(file)
    return file, (status.st_mtime_ns, status.st_size)


@lru_cache(maxsize=8)
def _check_list(file: Path, _: tuple[int, int]) -> CheckList:
    return checklist.parse(file.read_text("utf-8", "replace"), file.name)


@lru_cache(maxsize=8)
def _machine(file: Path, _: tuple[int, int]) -> CompleteMachine:
    return machine.parse(file.read_text("utf-8", "replace"), file.name)
