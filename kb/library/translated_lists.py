"""Translated lists: the check-out and the procedures of the house in another language, held against their originals.

The files have the form of their originals and lie in `entries/de/house/` (or the code of another language). What has a
short name keeps it; brackets may be left out, for minutes and all else are those of the original. `called: NAME` below
a line of the check-out says how that line is called in the language.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from kb.base.worded import worded
from kb.library import checklist, procedures
from kb.library.checklist import CheckLine
from kb.library.customs import CHECKOUT, FOLDER, PROCEDURES, Customs
from kb.library.items import Item, read_items
from kb.model import Remark

#: The text of the original and that of the translation.
Pair = tuple[str, str]


@dataclass(frozen=True, slots=True)
class TranslatedLists:
    """The lists of the house in one language.

    A translation is that of the list in force: beside a list of the shop's own only one of the shop's own counts.
    """

    customs: Customs
    language: str

    def paths(self) -> tuple[Path, ...]:
        """Where the translations stand, or would."""
        return tuple(self._path(name) for name in (CHECKOUT, PROCEDURES))

    def pairs(self) -> Iterator[Pair]:
        """Every text of the originals with its translation, where there is one."""
        for line, item in self._lines():
            yield from _line_pairs(line, item)
        for name, steps in self._steps():
            own = self.customs.procedures().by_name[name].steps
            if len(own) == len(steps):
                yield from zip(own, steps, strict=True)

    def remarks(self) -> Iterator[Remark]:
        """What is wrong in the files, by the name they have below the entries."""
        known = {line.name for line in self.customs.check_list().lines}
        yield from self._strangers(CHECKOUT, known, checklist.LIKE)
        originals = self.customs.procedures().by_name
        yield from self._strangers(PROCEDURES, set(originals), procedures.LIKE)
        for name, steps in self._steps():
            if len(steps) != len(originals[name].steps):
                told = worded("`{name}` has other steps than the original", name=name)
                yield Remark(
                    self._file(PROCEDURES),
                    1,
                    told,
                    worded("translate it line by line, in its order"),
                )

    def _lines(self) -> Iterator[tuple[CheckLine, Item]]:
        """The lines of the check-out with their translation."""
        items = {item.name: item for item in self._items(CHECKOUT)}
        for line in self.customs.check_list().lines:
            if line.name in items:
                yield line, items[line.name]

    def _steps(self) -> Iterator[tuple[str, tuple[str, ...]]]:
        """The procedures that are translated, by the name of the original, with their steps."""
        originals = self.customs.procedures().by_name
        return (
            (item.name, item.nested)
            for item in self._items(PROCEDURES)
            if item.name in originals
        )

    def _strangers(self, name: str, known: set[str], like: str) -> Iterator[Remark]:
        """What is not understood in a file, or names what its original does not have."""
        file = self._file(name)
        read = read_items(_text(self._path(name)), file, like)
        yield from read.remarks
        for item in read.items:
            if item.name not in known:
                told = worded("the original has no `{name}`", name=item.name)
                yield Remark(file, item.line, told, worded("keep to its short names"))

    def _items(self, name: str) -> tuple[Item, ...]:
        return read_items(_text(self._path(name)), name, "").items

    def _file(self, name: str) -> str:
        return f"{self.language}/{FOLDER}/{name}"

    def _path(self, name: str) -> Path:
        """The shop's own translation of a list, else the one in the library of the list that is in force."""
        own = (
            self.customs.own / self.language / FOLDER / name
            if self.customs.own is not None
            else None
        )
        if own is not None and own.is_file():
            return own
        return self.customs.path(name).parent.parent / self.language / FOLDER / name


def _line_pairs(line: CheckLine, item: Item) -> Iterator[Pair]:
    """The texts of a line with their translation: what to do, how it is called, and the words of its grades."""
    yield line.text, item.text
    said = dict(_parts(item))
    yield line.name.replace("-", " "), said.get("called", "")
    for letter, words in line.grades:
        yield words, said.get(f"grade {letter}", "")


def _parts(item: Item) -> Iterator[tuple[str, str]]:
    """What is nested under a line, cut at its first colon."""
    for told in item.nested:
        mark, _, words = told.partition(": ")
        yield mark.strip(), words.strip()


def _text(path: Path) -> str:
    """The text of a file, empty if it is not there."""
    try:
        return path.read_text("utf-8-sig", errors="replace")
    except OSError:
        return ""
