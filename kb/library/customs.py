"""The customs of a library, all its house files by one reader: the shop's own files before those of the library.

A library is one folder: its sheets, and beside them `house/` with the trade's names, standard acts, cautions, the
check-out list, the parts of a complete machine, the sheet that a new one begins with, and words.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from kb.library import acts, cautions, checklist, machine, procedures, spread, trade
from kb.library.acts import Acts
from kb.library.cautions import HouseCautions
from kb.library.checklist import CheckList
from kb.library.machine import CompleteMachine
from kb.library.procedures import Procedures
from kb.library.spread import Spread
from kb.library.stock import HOUSE
from kb.library.stock import stock_folder as stock_folder
from kb.library.trade import Trade
from kb.model import Remark

FOLDER = HOUSE
ACTS, CAUTIONS, CHECKOUT, MACHINE, SHEET, DEMO = (
    "acts.md",
    "cautions.md",
    "checkout.md",
    "machine.md",
    "sheet.md",
    "demo.toml",
)
SPREAD, PROCEDURES = "spread.md", "procedures.md"
#: Words of the trade, and words of other languages for its things.
WORDS = ("words.toml", "foreign.toml")

HouseFile = TypeVar("HouseFile")


def is_library(folder: Path) -> bool:
    """Whether a folder holds a library by itself: the names of its trade beside its sheets."""
    return (folder / FOLDER / trade.FILE).is_file()


@cache
def shipped_customs() -> Customs:
    """The customs of the library that ships with the program."""
    return Customs(None, None)


class Customs:
    """The house files of a shop: one in its own `entries/house/` wins over the one that comes with the library.

    All are read again when their file changes. What a library with a folder `house/` does not have there, it does not
    have at all; a folder of sheets without one is taken for sheets of the trade that ships.
    """

    def __init__(self, stock: Path | None, own: Path | None) -> None:
        self.own = own
        library = stock / FOLDER if stock is not None else None
        shipped = library is None or not library.is_dir()
        self._own_house = own / FOLDER if own is not None else None
        self._library = (
            stock_folder() / FOLDER if library is None or shipped else library
        )
        self._read: dict[str, tuple[str, Any]] = {}
        self._joined = Trade(), Trade(), Trade()
        self._held = _GoneBy()

    @contextmanager
    def held(self) -> Iterator[None]:
        """Within it this thread looks at each file once, and goes by what it held then.

        For work that asks some hundred thousand times: a look costs as much as the question.
        """
        before, self._held.files = self._held.files, {}
        try:
            yield
        finally:
            self._held.files = before

    def trade(self) -> Trade:
        """The trade's names and words, with the parts and tools that the shop names as its own."""
        base, own = self._now(trade.FILE, trade.parse), self.own_names()
        if not own.names:
            return base
        if self._joined[0] is not base or self._joined[1] is not own:
            self._joined = (
                base,
                own,
                replace(
                    base, parts=base.parts | own.parts, tools=base.tools | own.tools
                ),
            )
        return self._joined[2]

    def own_names(self) -> Trade:
        """The parts and tools of the shop's own, as its file names them now; none without one."""
        return self._now(
            trade.OWN,
            lambda text: trade.own_names(text, self._now(trade.FILE, trade.parse)),
        )

    def acts(self) -> Acts:
        """The table of standard acts."""
        return self._now(ACTS, acts.parse)

    def cautions(self) -> HouseCautions:
        """The house cautions by deed."""
        return self._now(CAUTIONS, cautions.parse)

    def check_list(self) -> CheckList:
        """The check-out list in force. Raises OSError if the disk does not give it."""
        return self._now(
            CHECKOUT, lambda text: checklist.parse(text, CHECKOUT), strict=True
        )

    def complete_machine(self) -> CompleteMachine:
        """The parts that a complete machine consists of. Raises OSError if the disk does not give them."""
        return self._now(
            MACHINE, lambda text: machine.parse(text, MACHINE), strict=True
        )

    def procedures(self) -> Procedures:
        """What several fixes do in the same way, step by step."""
        return self._now(PROCEDURES, procedures.parse)

    def spread(self) -> Spread:
        """Which parts liquid and fire reach beside a fault."""
        return self._now(SPREAD, lambda text: spread.parse(text, self.trade().parts))

    def empty_sheet(self) -> str:
        """The text that a new entry begins with."""
        return self._now(SHEET, str)

    def demo(self) -> str:
        """The text of what the demo invents for this trade, empty where it has nothing of it."""
        return self._now(DEMO, str)

    def words(self) -> tuple[Path, ...]:
        """The files of the trade's words."""
        return tuple(self.path(name) for name in WORDS)

    def remarks(self) -> list[Remark]:
        """What is wrong in these files."""
        read = (
            self.trade(),
            self.own_names(),
            self.acts(),
            self.cautions(),
            self.spread(),
            self.procedures(),
            *self._lists(),
        )
        return [remark for one in read for remark in one.remarks]

    def _lists(self) -> tuple[CheckList, CompleteMachine] | tuple[()]:
        """The lists whose loss must be told; none while the disk does not give them."""
        try:
            return self.check_list(), self.complete_machine()
        except OSError:
            return ()

    def stamp(self, name: str) -> str:
        """A stamp that changes whenever a house file does, or another one takes its place."""
        path = self.path(name)
        try:
            status = path.stat()
        except OSError:
            return f"{path}|none"
        return f"{path}|{status.st_size}|{status.st_mtime_ns}|{status.st_ino}"

    def path(self, name: str) -> Path:
        """Where a house file stands, or would: the shop's own, else that of the library."""
        own = self._own_house / name if self._own_house is not None else None
        return own if own is not None and own.is_file() else self._library / name

    def _now(
        self, name: str, parsed: Callable[[str], HouseFile], strict: bool = False
    ) -> HouseFile:
        """What a house file holds now; of one that is not there, what an empty one would."""
        files = self._held.files
        if files is None:
            return self._looked_at(name, parsed, strict)
        if name not in files:
            files[name] = self._looked_at(name, parsed, strict)
        return files[name]  # type: ignore[no-any-return]

    def _looked_at(
        self, name: str, parsed: Callable[[str], HouseFile], strict: bool
    ) -> HouseFile:
        """What the file holds, which is read again if it changed."""
        stamp = self.stamp(name)
        seen, held = self._read.get(name, ("", None))
        if seen != stamp:
            held = parsed(_text(self.path(name), strict))
            self._read[name] = (stamp, held)
        return held  # type: ignore[no-any-return]


class _GoneBy(threading.local):
    """The house files that a thread goes by without looking again, by name; None while it looks each time."""

    files: dict[str, Any] | None = None


def _text(path: Path, strict: bool) -> str:
    """The text of a house file, empty if it is not there; if it cannot be read too, unless one is to be told."""
    try:
        return path.read_text("utf-8-sig", errors="replace")
    except OSError:
        if strict and path.exists():
            raise
        return ""
