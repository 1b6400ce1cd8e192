"""Unwritten lines: what a sheet still says as the empty one does that it began with; a sheet with any is not served."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from kb.base.worded import worded
from kb.library import markdown
from kb.library.customs import Customs, shipped_customs
from kb.model import Entry, Remark


def remarks(entry: Entry, customs: Customs | None = None) -> list[Remark]:
    """A remark on every cause, test and fix that nobody has written yet, by the empty sheet of the house."""
    unsaid = begun(customs or shipped_customs())
    return [
        Remark(
            f"{entry.slug}.md",
            line,
            worded("`{text}` is what an empty sheet says", text=text),
            worded("write what it is, or take it out"),
        )
        for text, line in _told(entry)
        if text in unsaid
    ]


def _told(entry: Entry) -> Iterator[tuple[str, int]]:
    """What the causes, tests and fixes of a sheet say, each with its line."""
    yield from ((cause.text, cause.line) for cause in entry.causes)
    yield from ((test.title, test.line) for test in entry.tests)
    yield from ((fix.text, fix.line) for fix in entry.fixes)


def begun(customs: Customs) -> frozenset[str]:
    """The causes, tests and fixes as the empty sheet of a house says them."""
    return _begun(customs.empty_sheet())


def is_draft(remark: Remark) -> bool:
    """Whether a remark says no more than that a line is not written yet.

    >>> [is_draft(Remark("a.md", 3, told, "")) for told in ("`x` is what an empty sheet says", "it is torn")]
    [True, False]
    """
    return remark.problem.endswith("is what an empty sheet says")


@lru_cache(maxsize=8)
def _begun(empty: str) -> frozenset[str]:
    """The causes, tests and fixes of an empty sheet."""
    sample = markdown.parse(empty, "sample").entry
    if sample is None:
        return frozenset()
    return frozenset(text for text, _ in _told(sample))
