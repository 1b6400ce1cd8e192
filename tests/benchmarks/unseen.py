"""Prints the figures of the unseen sets (tests/data/unseen), without ever showing a line of them.

Behind them what a healthy clause costs: something that the "Not this if" of another sheet states, put to complaints of
own and fresh.

PYTHONPATH=.:tests python tests/benchmarks/unseen.py
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from random import Random

from helpers.asking import Question, ask, marks, questions
from helpers.unseen import table

from kb.bench.front import Bench


def with_a_healthy_clause(asked: Sequence[Question], bench: Bench, dice: Random) -> list[Question]:
    """The complaints, to each of which somebody adds what is well and has nothing to do with it."""
    stating = [entry for entry in bench.entries.served() if entry.not_this_if]
    longer = []
    for one in asked:
        other = dice.choice([entry for entry in stating if entry.slug not in one.entries])
        longer.append(replace(one, words=f"{one.words}, {dice.choice(other.not_this_if)}"))
    return longer


def main() -> None:
    """Print the table, and the loss by a healthy clause."""
    bench = Bench(Path(tempfile.mkdtemp()) / "shop")
    for line in table(bench):
        print(line, flush=True)
    asked = [*questions("own")[::2], *questions("fresh")[::6]]
    before = marks(ask(bench, asked)).first
    after = [marks(ask(bench, with_a_healthy_clause(asked, bench, Random(seed)))).first for seed in range(3)]
    print(f"a healthy clause put to {len(asked)} complaints: {before:.1f} to", *(f"{one:.1f}" for one in after))
    bench.close()


if __name__ == "__main__":
    main()
