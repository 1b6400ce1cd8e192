"""The first step that is advised is one that a senior technician would take; mend the sheets or the advice.

The table was written by somebody who had not seen what the program says: twenty-five complaints, each with the first
steps that he would accept and those that must never come first. The last column holds the words by which a step of
the program is known to be one of the accepted ones. What is to be done at once comes before every step.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from pathlib import Path

import pytest

from kb.bench.front import Bench

TABLE = Path(__file__).with_name("first-steps.tsv")
#: Of twenty-five complaints, so many begin as a senior would.
AT_LEAST = 22


@dataclass(frozen=True, slots=True)
class Complained:
    """A complaint with the words of the first steps that are accepted."""

    words: str
    accepted: tuple[str, ...]
    patterns: tuple[str, ...]

    def takes(self, advised: str) -> bool:
        """Whether what is advised is one of the accepted steps."""
        return any(
            re.search(pattern, advised, re.IGNORECASE) for pattern in self.patterns
        )


def complaints() -> list[Complained]:
    """The lines of the table."""
    with TABLE.open(encoding="utf-8") as source:
        rows = list(csv.reader(source, delimiter="\t"))[1:]
    return [
        Complained(words, tuple(accepted.split(" | ")), tuple(said.split(" ; ")))
        for words, accepted, _, _, said in rows
    ]


def test_each_accepted_step_is_known_by_words_of_its_own() -> None:
    for one in complaints():
        assert len(one.patterns) == len(one.accepted), one.words


def test_the_first_step_is_one_that_a_senior_would_take(stock_bench: Bench) -> None:
    missed = []
    for one in complaints():
        answer = stock_bench.asking.search(one.words)
        step = answer.next_step
        told = [
            *answer.at_once,
            *([step.title] if step and step.kind == "test" else []),
        ]
        if not any(map(one.takes, told)):
            missed.append(f"{one.words}: {step.title if step else 'nothing'}")

    assert len(complaints()) - len(missed) >= AT_LEAST, "\n".join(missed)


@pytest.mark.parametrize("one", complaints(), ids=lambda one: str(one.words))
def test_no_part_is_fitted_before_anything_was_looked_at(
    stock_bench: Bench, one: Complained
) -> None:
    step = stock_bench.asking.search(one.words).next_step

    assert step is not None
    assert step.kind != "fix" or not step.needs, step.title
