"""The shortest complaints, and every complaint that a page or a help text gives as an example: a gate."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from helpers.places import DATA, ROOT

from kb.bench.front import Bench
from kb.library.customs import shipped_customs

#: Of eighty so many may lack an accepted entry among the first three, or be told that nothing fits.
FEW = 4


def test_the_shortest_complaints_find_what_a_senior_would_accept_among_three(
    stock_bench: Bench,
) -> None:
    rows = [
        line.split("\t")
        for line in (DATA / "unseen" / "short.tsv").read_text("utf-8").splitlines()[1:]
    ]
    answers = {words: stock_bench.asking.search(words, limit=3) for words, _ in rows}
    missed = [
        words
        for words, slugs in rows
        if not {one.entry for one in answers[words].entries} & set(slugs.split(","))
    ]
    refused = [words for words, _ in rows if not answers[words].fits]

    assert len(rows) == 80
    assert len(missed) <= FEW, missed
    assert len(refused) <= FEW, refused


def _examples() -> Iterator[str]:
    """The complaints in the field's hint, and those after a command that takes one."""
    yield from shipped_customs().trade().says["complaint"].split(", ")
    sources = [
        ROOT / "README.md",
        ROOT / "DEVELOPERS.md",
        *(ROOT / "kb" / "cli").glob("*.py"),
    ]
    for source in sources:
        yield from re.findall(
            r'benchlore (?:search|guide) "([^"{]+)"', source.read_text("utf-8")
        )


def test_there_are_examples_in_the_pages_and_in_the_help() -> None:
    assert {"dead", "no light when plugged in"} <= set(_examples())


@pytest.mark.parametrize("complaint", sorted(set(_examples())))
def test_every_example_that_is_shown_fits(stock_bench: Bench, complaint: str) -> None:
    assert stock_bench.asking.search(complaint, limit=3).fits
