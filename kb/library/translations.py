"""Translations of sheets: files in a folder of their language, held against their originals text by text.

A translation is a sheet of the same name in `entries/de/` (or the code of another language). Its causes, tests,
outcomes and fixes stand as in the original and keep their short names, so that arithmetic and history stay those of the
original; what is translated is the text a person reads. Cautions, check-out and procedures of `house/` may be
translated the same way.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from kb.base.worded import worded
from kb.library import cautions
from kb.library.cautions import Deed
from kb.library.customs import CAUTIONS, FOLDER
from kb.library.shelf import Sheet, Shelf, read_sheet
from kb.library.translated_lists import Pair, TranslatedLists
from kb.model import Entry, Remark, Test

#: What a folder of translations is called: the code of a language.
LANGUAGE = re.compile("[a-z]{2,3}")

#: The section that a translation may leave out.
WORDINGS = "`Also heard as` is missing"


@dataclass(frozen=True, slots=True)
class TranslatedShelf:
    """The translations of one language that a shop sees; a file in its own folder wins over the stock file."""

    shelf: Shelf
    language: str

    def files(self) -> dict[str, tuple[Path, bool]]:
        """Slug to (path, whether it is the shop's own), sorted by slug; nothing is opened."""
        return Shelf(
            _below(self.shelf.stock, self.language),
            _below(self.shelf.own, self.language),
        ).files()

    def stamp(self) -> str:
        """What changes whenever one of the files does."""
        paths = [path for path, _ in self.files().values()]
        paths += self._house_cautions()
        paths += self.lists().paths()
        return "\n".join(filter(None, map(_stamp, paths)))

    def lists(self) -> TranslatedLists:
        """The check-out and the procedures of the house in this language."""
        return TranslatedLists(self.shelf.customs, self.language)

    def sheets(self) -> Iterator[Sheet]:
        """Every translation, read as a sheet."""
        for path, own in self.files().values():
            yield read_sheet(path, own, self.shelf.customs)

    def pairs(self, original: Callable[[str], Entry | None]) -> Iterator[Pair]:
        """Every text of an original with its translation; of a sheet that does not match its original, none."""
        for sheet in self.sheets():
            entry = original(sheet.slug)
            if (
                entry
                and sheet.entry
                and not mismatches(entry, sheet.entry, sheet.path.name)
            ):
                yield from pairs_of(entry, sheet.entry)
        yield from self._cautions()
        yield from self.lists().pairs()

    def remarks(self, original: Callable[[str], Entry | None]) -> Iterator[Remark]:
        """What is wrong in the files, by the name they have below the entries."""
        for sheet in self.sheets():
            yield from self._of_sheet(sheet, original(sheet.slug))
        for deed, other in self._deeds():
            differs = _counts_differ(deed.name, deed.cautions, other.cautions)
            if differs:
                yield Remark(
                    f"{self.language}/{FOLDER}/{CAUTIONS}", other.line, *differs
                )
        yield from self.lists().remarks()

    def _of_sheet(self, sheet: Sheet, original: Entry | None) -> Iterator[Remark]:
        """What is wrong in one translation: what cannot be read, and where it is not built as its original."""
        file = f"{self.language}/{sheet.path.name}"
        for one in unreadable(sheet):
            yield Remark(file, one.line, one.problem, one.instead)
        if original is None:
            told = worded(
                "there is no entry `{slug}` that this translates", slug=sheet.slug
            )
            yield Remark(file, 1, told, worded("name the file as its original"))
        elif sheet.entry:
            yield from mismatches(original, sheet.entry, file)

    def _cautions(self) -> Iterator[Pair]:
        """The house cautions with their translation, deed by deed; of one that does not match, none."""
        for deed, other in self._deeds():
            if len(other.cautions) == len(deed.cautions):
                yield from zip(deed.cautions, other.cautions, strict=True)

    def _deeds(self) -> Iterator[tuple[Deed, Deed]]:
        """The deeds of the house that are translated, each with its translation; the shop's own come before others."""
        found: dict[str, Deed] = {}
        for path in self._house_cautions():
            if path.is_file():
                read = cautions.parse(path.read_text("utf-8-sig", errors="replace"))
                found |= {deed.name: deed for deed in read.deeds}
        for deed in self.shelf.customs.cautions().deeds:
            if deed.name in found:
                yield deed, found[deed.name]

    def _house_cautions(self) -> list[Path]:
        """Where translated cautions may lie, those of the shop last, so that they win."""
        return [
            folder / self.language / FOLDER / CAUTIONS
            for folder in _folders(self.shelf)
        ]


def languages_of(shelf: Shelf) -> list[str]:
    """The languages into which a shop's shelf has sheets translated."""
    named: set[str] = set()
    for folder in _folders(shelf):
        if folder.is_dir():
            named.update(item.name for item in folder.iterdir() if item.is_dir())
    return sorted(name for name in named if LANGUAGE.fullmatch(name))


def _folders(shelf: Shelf) -> list[Path]:
    return [folder for folder in (shelf.stock, shelf.own) if folder is not None]


def translation_remarks(shelf: Shelf, originals: Mapping[str, Entry]) -> list[Remark]:
    """What is wrong in all translations that a shop sees."""
    shelves = (TranslatedShelf(shelf, language) for language in languages_of(shelf))
    return [remark for one in shelves for remark in one.remarks(originals.get)]


def unreadable(sheet: Sheet) -> list[Remark]:
    """What cannot be read of a translation; how people say it in English is the original's business."""
    return [one for one in sheet.parsed.remarks if WORDINGS not in one.problem]


def original_of(path: Path) -> Path | None:
    """The sheet that a file translates: the one of its name beside the folder of a language; None if it is none."""
    folder = path.absolute().parent
    original = folder.parent / path.name
    return original if LANGUAGE.fullmatch(folder.name) and original.is_file() else None


def mismatches(original: Entry, translated: Entry, file: str) -> list[Remark]:
    """Where a translation is not built as its original, so that its texts cannot take the place of those."""
    kept = _names(translated)
    found = [
        _names_differ(heading, names, kept[heading])
        for heading, names in _names(original).items()
    ]
    found += [
        _counts_differ(heading, one, other)
        for heading, one, other in _lists(original, translated)
    ]
    remarks = [Remark(file, 1, *told) for told in found if told]
    if len(original.tests) == len(translated.tests):
        for number, test in enumerate(translated.tests, 1):
            if _shape(test) != _shape(original.tests[number - 1]):
                remarks.append(_shows_else(number, test, file))
    return remarks


def pairs_of(original: Entry, translated: Entry) -> Iterator[Pair]:
    """The texts of an entry with those of a translation that matches it."""
    yield original.title, translated.title
    for _, one, other in _lists(original, translated):
        if one and isinstance(one[0], str):
            yield from zip(one, other, strict=True)
    yield from _texts(zip(original.causes, translated.causes, strict=True), "text")
    yield from _texts(zip(original.fixes, translated.fixes, strict=True), "text")
    yield from _texts(
        zip(original.neighbours, translated.neighbours, strict=True), "observation"
    )
    yield from _texts(zip(original.undivided, translated.undivided, strict=True), "why")
    for own, test in zip(original.tests, translated.tests, strict=True):
        yield from ((own.title, test.title), (own.detail, test.detail))
        yield from _texts(zip(own.outcomes, test.outcomes, strict=True), "text")


def _texts(both: Iterable[tuple[object, object]], name: str) -> Iterator[Pair]:
    return ((getattr(one, name), getattr(other, name)) for one, other in both)


def _lists(
    original: Entry, translated: Entry
) -> tuple[tuple[str, tuple[object, ...], tuple[object, ...]], ...]:
    """The lists of both whose items stand for each other, by the heading they stand under."""
    return (
        ("Symptom", original.symptoms, translated.symptoms),
        ("At once", original.deeds, translated.deeds),
        ("Not this if", original.not_this_if, translated.not_this_if),
        ("Cheapest test first", original.tests, translated.tests),
        ("Safety", original.safety, translated.safety),
        ("Not told apart", original.undivided, translated.undivided),
    )


def _names(entry: Entry) -> dict[str, list[str]]:
    """The short names that a translation keeps, by the heading they stand under."""
    return {
        "Likely causes": [cause.slug for cause in entry.causes],
        "Fix": [", ".join(fix.causes) for fix in entry.fixes],
        "See also": [near.slug for near in entry.neighbours],
    }


def _shape(test: Test) -> tuple[object, ...]:
    """What the outcomes of a test say of causes, other sheets and the machine."""
    return tuple(
        (one.points_to, one.clears, one.see, one.machine) for one in test.outcomes
    )


def _names_differ(
    heading: str, original: list[str], translated: list[str]
) -> tuple[str, str] | None:
    if original == translated:
        return None
    told = worded(
        "`{heading}` names other things than the original, or in another order",
        heading=heading,
    )
    return told, worded("keep to {names}", names="; ".join(original))


def _counts_differ(
    heading: str, one: tuple[object, ...], other: tuple[object, ...]
) -> tuple[str, str] | None:
    if len(one) == len(other):
        return None
    told = worded(
        "`{heading}` has {count} lines, the original has {whole}",
        heading=heading,
        count=len(other),
        whole=len(one),
    )
    return told, worded("translate it line by line, in its order")


def _shows_else(number: int, test: Test, file: str) -> Remark:
    told = worded(
        "what test {number} shows names other causes than in the original",
        number=number,
    )
    return Remark(
        file,
        test.line,
        told,
        worded("give its outcomes the same causes in the same order"),
    )


def _below(folder: Path | None, name: str) -> Path | None:
    return folder / name if folder else None


def _stamp(path: Path) -> str:
    try:
        status = path.stat()
    except OSError:
        return ""
    return f"{path}|{status.st_size}|{status.st_mtime_ns}|{status.st_ino}"
