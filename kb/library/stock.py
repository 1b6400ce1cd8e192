"""The stock, which is the library that ships with the program: where it is, and which of its files are sheets.

Whoever only wants to know that loads nothing else for it.
"""

from __future__ import annotations

import os
from pathlib import Path

from kb.base.trouble import NotThere

#: How to write a sheet, beside the sheets: no entry.
GUIDE = "README.md"
#: Where a library, and a shop, keep the files that are not sheets; the names of a trade, and those a shop adds to them.
HOUSE, TRADE, OWN_TRADE = "house", "trade.toml", "own.toml"


def stock_folder() -> Path:
    """The library that ships with the program, from an installed wheel or from a checkout.

    Raises NotThere when neither is there.
    """
    here = Path(__file__).resolve().parents[1]
    for folder in (here / "_entries", here.parent / "entries"):
        if folder.is_dir():
            return folder
    raise NotThere("the stock entries are missing; install Benchlore again")


def may_be_entry(name: str) -> bool:
    """Whether a file of that name in a folder of sheets is one."""
    return name.endswith(".md") and not name.startswith(".") and name != GUIDE


def stamp_of(path: str, status: os.stat_result) -> str:
    """What changes whenever a file does: its path, size, time and inode."""
    return f"{path}|{status.st_size}|{status.st_mtime_ns}|{status.st_ino}"
