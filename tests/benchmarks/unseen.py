"""Prints the figures of the unseen sets (tests/data/unseen), without ever showing a line of them.

Behind them what a healthy clause costs: something that the "Not this if" of another sheet states, put to complaints of
own and fresh; and clauses that nothing was tuned on (`stop28-clauses`), put to complaints that nothing was tuned on.

PYTHONPATH=.:tests python tests/benchmarks/unseen.py
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from random import Random

from helpers.asking import Question, ask, marks, questions
from helpers.unseen import Heard, first_share, heard, table, told

from kb.bench.front import Bench


def with_a_healthy_clause(
    asked: Sequence[Question], bench: Bench, dice: Random
) -> list[Question]:
    """The complaints, to each of which somebody adds what is well and has nothing to do with it."""
    stating = [entry for entry in bench.entries.served() if entry.not_this_if]
    longer = []
    for one in asked:
        other = dice.choice(
            [entry for entry in stating if entry.slug not in one.entries]
        )
        longer.append(
            replace(one, words=f"{one.words}, {dice.choice(other.not_this_if)}")
        )
    return longer


def with_an_unseen_clause(
    asked: Sequence[Heard], clauses: Sequence[Heard], dice: Random
) -> list[Heard]:
    """The complaints, to each of which somebody adds that another part is well; a clause names the sheets to avoid."""
    longer = []
    for one in asked:
        clause = dice.choice(
            [clause for clause in clauses if clause.sheets.isdisjoint(one.sheets)]
        )
        longer.append(replace(one, words=f"{one.words}, {clause.words}"))
    return longer


def with_a_clause_beside(
    asked: Sequence[Heard], clauses: Sequence[Heard], dice: Random
) -> list[Heard]:
    """The same with clauses that name the sheets to which they may be put; a complaint of no such sheet is left out."""
    beside = [
        (
            one,
            [clause for clause in clauses if not clause.sheets.isdisjoint(one.sheets)],
        )
        for one in asked
    ]
    return [
        replace(one, words=f"{one.words}, {dice.choice(held).words}")
        for one, held in beside
        if held
    ]


def main() -> None:
    """Print the table, and the loss by a healthy clause."""
    bench = Bench(Path(tempfile.mkdtemp()) / "shop")
    for line in table(bench):
        print(line, flush=True)
    asked = [*questions("own")[::2], *questions("fresh")[::6]]
    before = marks(ask(bench, asked)).first
    after = [
        marks(ask(bench, with_a_healthy_clause(asked, bench, Random(seed)))).first
        for seed in range(3)
    ]
    print(
        f"a healthy clause put to {len(asked)} complaints: {before:.1f} to",
        *(f"{one:.1f}" for one in after),
    )
    unseen, clauses = (
        [*heard("voices-b"), *heard("stop27-voices")],
        heard("stop28-clauses"),
    )
    first = first_share(told(bench, unseen))
    longer = [
        first_share(told(bench, with_an_unseen_clause(unseen, clauses, Random(seed))))
        for seed in range(3)
    ]
    print(
        f"an unseen one put to {len(unseen)} others: {first:.3f} to",
        *(f"{one:.3f}" for one in longer),
    )
    clauses = heard("stop29-clauses")
    named = frozenset().union(*(clause.sheets for clause in clauses))
    some = [one for one in unseen if not named.isdisjoint(one.sheets)]
    first = first_share(told(bench, some))
    longer = [
        first_share(told(bench, with_a_clause_beside(some, clauses, Random(seed))))
        for seed in range(3)
    ]
    print(
        f"one of stop29 put to {len(some)} of these: {first:.3f} to",
        *(f"{one:.3f}" for one in longer),
    )
    bench.close()


if __name__ == "__main__":
    main()
