"""Unwritten lines: what a sheet still says as the empty one does that it began with; a sheet with any is not served."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from kb.base.worded import worded
from kb.library import markdown
from kb.model import Entry, Remark


@lru_cache(maxsize=1)
def empty_sheet() -> str:
    """The text that a new entry begins with."""
    return Path(__file__).with_name("new-sheet.md").read_text(encoding="utf-8")


def remarks(entry: Entry) -> list[Remark]:
    """A remark on every cause, test and fix that nobody has written yet."""
    given = [
        *((cause.text, cause.line) for cause in entry.causes),
        *((test.title, test.line) for test in entry.tests),
        *((fix.text, fix.line) for fix in entry.fixes),
    ]
    return [
        Remark(
            f"{entry.slug}.md",
            line,
            worded("`{text}` is what an empty sheet says", text=text),
            worded("write what it is, or take it out"),
        )
        for text, line in given
        if text in _begun()
    ]


@lru_cache(maxsize=1)
def _begun() -> frozenset[str]:
    """The causes, tests and fixes of the empty sheet."""
    sample = markdown.parse(empty_sheet(), "sample").entry
    assert sample is not None
    return frozenset(
        (
            *(cause.text for cause in sample.causes),
            *(test.title for test in sample.tests),
            *(fix.text for fix in sample.fixes),
        )
    )
