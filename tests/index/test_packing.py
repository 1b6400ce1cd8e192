"""Entries packed for the index, and unpacked again."""

from __future__ import annotations

from helpers.marked import GATED, MARKED

from kb.index import packing
from kb.library.markdown import parse
from kb.model import Entry


def test_the_index_keeps_everything_that_a_sheet_says(
    library: tuple[Entry, ...],
) -> None:
    marked = [parse(text, "no-light").entry for text in (GATED, MARKED)]

    for entry in (*library, *marked):
        assert entry
        assert packing.unpacked(packing.packed(entry)) == entry
