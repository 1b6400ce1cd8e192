"""The customs of the house: standard acts and cautions of deeds, the shop's own files before those that ship."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from kb.base.trouble import NotThere
from kb.library import acts, cautions
from kb.library.acts import Acts
from kb.library.cautions import HouseCautions
from kb.model import Remark

FOLDER = "house"
ACTS, CAUTIONS = "acts.md", "cautions.md"


def stock_folder() -> Path:
    """The entries that ship with the program, from an installed wheel or from a checkout.

    Raises NotThere when neither is there.
    """
    here = Path(__file__).resolve().parents[1]
    for folder in (here / "_entries", here.parent / "entries"):
        if folder.is_dir():
            return folder
    raise NotThere("the stock entries are missing; install Benchlore again")


@cache
def shipped_acts() -> Acts:
    """The standard acts that ship with the program."""
    return acts.parse(_text(stock_folder() / FOLDER / ACTS))


class Customs:
    """The house files of a shop: one in its own `entries/house/` wins over the one that comes with the entries.

    Both are read again when their file changes. A file that is nowhere else is the one that ships with the program.
    """

    def __init__(self, stock: Path | None, own: Path | None) -> None:
        self._folders = [folder / FOLDER for folder in (own, stock) if folder is not None]
        self._acts = ("", Acts({}))
        self._cautions = ("", HouseCautions())

    def acts(self) -> Acts:
        """The table of standard acts."""
        stamp = self.stamp(ACTS)
        if self._acts[0] != stamp:
            self._acts = (stamp, acts.parse(_text(self._path(ACTS))))
        return self._acts[1]

    def cautions(self) -> HouseCautions:
        """The house cautions by deed."""
        stamp = self.stamp(CAUTIONS)
        if self._cautions[0] != stamp:
            self._cautions = (stamp, cautions.parse(_text(self._path(CAUTIONS))))
        return self._cautions[1]

    def remarks(self) -> list[Remark]:
        """What is wrong in these files."""
        return [*self.acts().remarks, *self.cautions().remarks]

    def stamp(self, name: str) -> str:
        """A stamp that changes whenever a house file does, or another one takes its place."""
        path = self._path(name)
        try:
            status = path.stat()
        except OSError:
            return f"{path}|none"
        return f"{path}|{status.st_size}|{status.st_mtime_ns}|{status.st_ino}"

    def _path(self, name: str) -> Path:
        """Where a house file stands: the shop's own, that of the entries, or the one that ships."""
        found = (folder / name for folder in self._folders if (folder / name).is_file())
        return next(found, None) or stock_folder() / FOLDER / name


def _text(path: Path) -> str:
    """The text of a house file, empty if it cannot be read: then nothing of the house is known."""
    try:
        return path.read_text("utf-8-sig", errors="replace")
    except OSError:
        return ""
