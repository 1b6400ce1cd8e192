"""What the order of a check-out gains: expected minutes a machine by the list, by the ratio rule, and as computed.

    PYTHONPATH=.:tests python tests/benchmarks/checkout.py [--lists N]

Invented lists of a workshop, and any figures at all, with and without lines that have to stand
behind others; then the shipped list in eight invented truths of twelve models, as learned from so many check-outs of
each model. The exact least is known for 13 and 16 lines; the excess of the ratio rule and of the computed order over
it (of 28 and 30 lines: over the computed order) is a mean with the worst in brackets. Milliseconds of processor time.
"""

from __future__ import annotations

import argparse
import statistics
import time
from collections.abc import Callable, Sequence

from helpers.checklists import (
    Checklist,
    by_ratio,
    least_minutes,
    played,
    wild,
    workshop,
)
from helpers.gains import gain, shipped_lines

from kb.demo.checkout import InventedCheckOuts
from kb.machines.checkout.sequence import expected_minutes, order

#: Up to so many lines the exact least is reckoned.
EXACT = 16


def row(
    drawn: Callable[[int, int, str], Checklist], lines: int, pairs: str, lists: int
) -> str:
    """The figures of some lists of one kind."""
    by_list, by_rule, computed, least, spent = [], [], [], [], []
    for seed in range(lists):
        checklist = drawn(seed, lines, pairs)
        began = time.thread_time()
        found = order(*checklist.figures, after=checklist.after)
        spent.append(1000 * (time.thread_time() - began))
        computed.append(expected_minutes(*checklist.figures, found))
        listed = order(*checklist.figures, first=_listed(checklist))
        by_list.append(expected_minutes(*checklist.figures, listed))
        by_rule.append(expected_minutes(*checklist.figures, by_ratio(checklist)))
        least.append(least_minutes(checklist) if lines <= EXACT else computed[-1])
    minutes = " ".join(
        f"{statistics.fmean(values):8.1f}" for values in (by_list, by_rule, computed)
    )
    exact = f"{statistics.fmean(least):8.1f}" if lines <= EXACT else "       -"
    excess = f"{_excess(by_rule, least)} {_excess(computed, least)}"
    return (
        f"{minutes} {exact} {excess} {statistics.fmean(spent):6.1f} ({max(spent):.1f})"
    )


def _listed(checklist: Checklist) -> list[int]:
    """The order of the numbers, as far as the pairs allow."""
    left = list(range(len(checklist.minutes)))
    listed: list[int] = []
    while left:
        behind = {later for earlier, later in checklist.after if earlier in left}
        listed.append(next(line for line in left if line not in behind))
        left.remove(listed[-1])
    return listed


def _excess(values: Sequence[float], least: Sequence[float]) -> str:
    over = [100 * (value / best - 1) for value, best in zip(values, least, strict=True)]
    return f"{statistics.fmean(over):8.3f} ({max(over):8.3f})"


def gains() -> None:
    """What the shipped list gains against its own order in invented truths: mean, and least to most."""
    lines = shipped_lines()
    for machines in (0, 11, 40):
        for wrong in (False, True):
            found = [
                gain(InventedCheckOuts(lines, seed), machines, wrong)
                for seed in range(1, 9)
            ]
            figures = ", ".join(
                f"{name} {statistics.fmean(values):.1f} ({min(values):.1f} to {max(values):.1f})"
                for name, values in (
                    ("as listed", [one.listed for one in found]),
                    ("computed", [one.computed for one in found]),
                    ("saved", [one.saved for one in found]),
                    (
                        "most that could be saved",
                        [one.listed - one.best for one in found],
                    ),
                )
            )
            print(
                f"{machines} check-outs a model{', figures wrong' if wrong else ''}: {figures}",
                flush=True,
            )


def main() -> None:
    """Print the table, and one list played."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lists", type=int, default=40)
    asked = parser.parse_args()
    print(
        f"{'lists':24}   listed    ratio computed    exact   excess of ratio, %  of computed, %     ms (worst)"
    )
    for drawn in (workshop, wild):
        for lines in (13, 16, 28, 30):
            for pairs in ("none", "chains", "any"):
                name = f"{drawn.__name__} {lines} {pairs}"
                print(f"{name:24} {row(drawn, lines, pairs, asked.lists)}", flush=True)
    gains()
    checklist = workshop(0, 28)
    found = order(*checklist.figures)
    mean, error = played(checklist, found, 20_000, seed=1)
    print(
        f"workshop 28, first list: {expected_minutes(*checklist.figures, found):.2f} by formula, ",
        end="",
    )
    print(f"{mean:.2f} ± {error:.2f} played on 20,000 machines")


if __name__ == "__main__":
    main()
