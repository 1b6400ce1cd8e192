"""What came out of the simulated shop: runs, their means with standard errors, and the table of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Run:
    """How one way of working did on one machine."""

    way: str
    ticket: int
    minutes: float
    named_first: bool
    right_entry: bool
    habit: bool
    first_fix_right: bool
    tests: int
    parts_in_vain: int
    searched_on: bool
    repeated: int


@dataclass(frozen=True, slots=True)
class Mean:
    """A mean with its standard error."""

    value: float
    error: float

    def __str__(self) -> str:
        return f"{self.value:.1f} ± {self.error:.1f}"


@dataclass(frozen=True, slots=True)
class Line:
    """One way of working: minutes over all machines, and over parts of them; shares in percent; means per machine."""

    way: str
    minutes: Mean
    right_entry: Mean
    on_habits: Mean
    off_habits: Mean
    named_first: Mean
    first_fix: Mean
    tests: Mean
    parts_in_vain: Mean
    searched_on: Mean
    repeated: int


@dataclass(frozen=True, slots=True)
class Gap:
    """How many minutes a machine one way saves against another, on the same machines."""

    way: str
    against: str
    saved: Mean


def mean(values: Iterable[float]) -> Mean:
    """The mean and its standard error, the sample's standard deviation by the root of the number.

    >>> print(mean([1.0, 3.0]))
    2.0 ± 1.0
    """
    held = list(values)
    if len(held) < 2:
        return Mean(held[0] if held else math.nan, math.nan)
    middle = math.fsum(held) / len(held)
    return Mean(
        middle,
        math.sqrt(
            math.fsum((x - middle) ** 2 for x in held) / (len(held) - 1) / len(held)
        ),
    )


def line(way: str, runs: Sequence[Run]) -> Line:
    """The means of one way of working."""
    return Line(
        way,
        mean(run.minutes for run in runs),
        mean(run.minutes for run in runs if run.right_entry),
        mean(run.minutes for run in runs if run.habit),
        mean(run.minutes for run in runs if not run.habit),
        mean(100.0 * run.named_first for run in runs),
        mean(100.0 * run.first_fix_right for run in runs),
        mean(run.tests for run in runs),
        mean(run.parts_in_vain for run in runs),
        mean(100.0 * run.searched_on for run in runs),
        sum(run.repeated for run in runs),
    )


def gap(runs: Sequence[Run], against: Sequence[Run]) -> Gap:
    """The paired difference of two ways over the same machines; positive where the first saves minutes."""
    other = {run.ticket: run.minutes for run in against}
    if not runs:
        return Gap("", "", mean([]))
    return Gap(
        runs[0].way,
        against[0].way,
        mean(other[run.ticket] - run.minutes for run in runs),
    )


def not_won(runs: Sequence[Run], against: Sequence[Run]) -> list[str]:
    """In words every part of the machines on which the first way is not clearly quicker (by two standard errors).

    Machines for which one of the two ways had the right sheet first and the other had not are left out.
    """
    found_by = {run.ticket: run.right_entry for run in against}
    alike = [run for run in runs if run.right_entry == found_by[run.ticket]]
    said = []
    for right in (True, False):
        for habit in (True, False):
            part = {
                run.ticket
                for run in alike
                if run.right_entry == right and run.habit == habit
            }
            found = gap(
                [run for run in runs if run.ticket in part],
                [run for run in against if run.ticket in part],
            )
            if not found.saved.value > 2 * found.saved.error:
                where = f"{'right' if right else 'wrong'} sheet first, {'habit' if habit else 'other'} jobs"
                said.append(
                    f"{found.way} is not quicker than {found.against} on {where}: {found.saved} min saved"
                )
    return said


def table(lines: Sequence[Line]) -> str:
    """The lines as a Markdown table."""
    head = (
        "way of working",
        "minutes to fixed",
        "right sheet first",
        "habit jobs",
        "other jobs",
        "cause named first %",
        "first fix right %",
        "tests",
        "parts in vain",
        "long search %",
    )
    rows = [
        (
            one.way,
            str(one.minutes),
            str(one.right_entry),
            str(one.on_habits),
            str(one.off_habits),
            str(one.named_first),
            str(one.first_fix),
            f"{one.tests.value:.1f}",
            f"{one.parts_in_vain.value:.2f}",
            f"{one.searched_on.value:.1f}",
        )
        for one in lines
    ]
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(len(head))]
    text = [
        _row(head, widths),
        "| " + " | ".join("-" * width for width in widths) + " |",
    ]
    return "\n".join([*text, *(_row(row, widths) for row in rows)])


def _row(cells: Sequence[str], widths: Sequence[int]) -> str:
    return (
        "| "
        + " | ".join(
            cell.ljust(width) for cell, width in zip(cells, widths, strict=True)
        )
        + " |"
    )
