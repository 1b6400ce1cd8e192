"""The catalogue of all sheets: whose text each is, how often it was confirmed, what is to mend."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from kb.index.index import Index
from kb.library import checks
from kb.library.customs import Customs
from kb.model import Entry, Remark


@dataclass(frozen=True, slots=True)
class Listed:
    """One file of the shelf; `entry` is None if nothing of it can be served."""

    slug: str
    entry: Entry | None
    own: bool
    jobs: int
    to_mend: int
    wishes: int

    @property
    def title(self) -> str:
        """The entry's title, or the file's name."""
        return self.entry.title if self.entry else f"{self.slug}.md"

    @property
    def area(self) -> str:
        """The entry's area, empty if it cannot be served."""
        return self.entry.area if self.entry else ""

    def says(self, text: str) -> bool:
        """Whether all words of a text stand in its title (with name and area), in one symptom or in one wording."""
        told = [f"{self.slug} {self.title} {self.area}"]
        if self.entry:
            told += [*self.entry.symptoms, *self.entry.wordings]
        words = text.casefold().split()
        return any(all(word in line.casefold() for word in words) for line in told)


@dataclass(frozen=True, slots=True)
class Catalogue:
    """The files by area and title, and all remarks on them by file and line."""

    listed: tuple[Listed, ...]
    remarks: tuple[Remark, ...]

    @property
    def to_mend(self) -> tuple[Remark, ...]:
        """What is wrong in the files."""
        return tuple(remark for remark in self.remarks if not remark.wish)

    @property
    def wishes(self) -> tuple[Remark, ...]:
        """What would make them better."""
        return tuple(remark for remark in self.remarks if remark.wish)


def catalogue(
    index: Index, confirmed: Mapping[str, float], customs: Customs
) -> Catalogue:
    """The catalogue of an index that is being read; `confirmed` counts the jobs of each entry."""
    remarks = remarks_of(index, customs)
    marked = Counter((remark.file, remark.wish) for remark in remarks)
    found = [
        Listed(
            slug=slug,
            entry=index.entry(slug),
            own=own,
            jobs=int(confirmed.get(slug, 0)),
            to_mend=marked[f"{slug}.md", False],
            wishes=marked[f"{slug}.md", True],
        )
        for slug, own in index.sheets.files()
    ]
    return Catalogue(
        tuple(sorted(found, key=lambda one: (one.area, one.title))), remarks
    )


def remarks_of(index: Index, customs: Customs) -> tuple[Remark, ...]:
    """Every problem in the files as taken in, by file and line, held against the names of the house."""
    entries = index.entries()
    remarks = list(index.sheets.remarks())
    for entry in entries:
        remarks += checks.inspect(entry, customs)
    remarks += checks.inspect_library(entries)
    return tuple(
        sorted(remarks, key=lambda remark: (remark.file, remark.line, remark.problem))
    )
