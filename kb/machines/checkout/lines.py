"""The lines of a check-out as numbers ready for reckoning: what an order of them costs, what may stand where."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from operator import index
from typing import Any

Pairs = Iterable[tuple[int, int]]

#: Minutes that differ by less than this share are the same minutes.
TIE = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckLines:
    """Some lines by number: `fails` in 0..1 each, `minutes` each, and what the order of them is reckoned from."""

    minutes: list[float]
    fails: list[float]
    #: P(the machine's way ends here | the line fails).
    ends: list[float]
    #: P(the check-out goes on after the line), 1 - q·g.
    goes_on: list[float]
    #: The line's minutes, with those of the lines pinned before all of these that its repair makes necessary again.
    alone: list[float]
    #: `again[i][j]`: expected minutes of j that line i makes necessary again when it comes later, q·(1 - g)·w.
    again: list[list[float]]
    #: The same the other way: `disturbed[j][i]` is what line j costs again because of line i.
    disturbed: list[list[float]]
    #: The lines that have to stand before line i, near and far, as the bits of a number.
    before: list[int]

    def expected(self, order: Iterable[int]) -> float:
        """Expected minutes of the lines in that order: the sum of P(still going on) · (minutes + minutes again)."""
        going, spent = 1.0, 0.0
        done: list[int] = []
        for line in order:
            row = self.again[line]
            spent += going * (self.alone[line] + sum([row[other] for other in done]))
            going *= self.goes_on[line]
            done.append(line)
        return spent

    def going_on(self, order: Iterable[int]) -> list[float]:
        """P(the check-out comes to the line), for each place of that order."""
        going, chances = 1.0, []
        for line in order:
            chances.append(going)
            going *= self.goes_on[line]
        return chances

    def part(self, chosen: Sequence[int], done: Iterable[int]) -> CheckLines:
        """The chosen lines alone, numbered anew in that order, as they are once some others are done."""
        behind = tuple(done)
        again = [[self.again[line][other] for other in chosen] for line in chosen]
        return CheckLines(
            minutes=[self.minutes[line] for line in chosen],
            fails=[self.fails[line] for line in chosen],
            ends=[self.ends[line] for line in chosen],
            goes_on=[self.goes_on[line] for line in chosen],
            alone=[
                self.alone[line] + sum([self.again[line][other] for other in behind])
                for line in chosen
            ],
            again=again,
            disturbed=_turned(again),
            before=[_renumbered(self.before[line], chosen) for line in chosen],
        )


def _renumbered(before: int, chosen: Sequence[int]) -> int:
    """Which of the chosen lines stand in a set of lines, by their new numbers."""
    if before == 0:
        return 0
    return sum([1 << new for new, old in enumerate(chosen) if before >> old & 1])


def read(
    minutes: Sequence[float],
    fails: Sequence[float],
    ends: Sequence[float],
    redo: Sequence[Sequence[float]],
    after: Pairs = (),
) -> CheckLines:
    """The lines told by their figures; ValueError with what is wrong where they cannot be."""
    count = len(minutes)
    rows = {f"redo[{line}]": row for line, row in enumerate(redo)}
    _one_for_each_line({"fails": fails, "ends": ends, "redo": redo, **rows}, count)
    _numbers("minutes", minutes)
    _numbers("fails", fails, most=1.0)
    _numbers("ends", ends, most=1.0)
    for said, row in rows.items():
        _numbers(said, row)
    again = []
    for line in range(count):
        repaired = float(fails[line]) * (1.0 - float(ends[line]))
        again.append([repaired * float(value) for value in redo[line]])
        again[line][line] = 0.0
    return CheckLines(
        minutes=[float(value) for value in minutes],
        fails=[float(value) for value in fails],
        ends=[float(value) for value in ends],
        goes_on=[1.0 - float(q) * float(g) for q, g in zip(fails, ends, strict=True)],
        alone=[float(value) for value in minutes],
        again=again,
        disturbed=_turned(again),
        before=_closed(count, after),
    )


def _turned(table: list[list[float]]) -> list[list[float]]:
    return [list(column) for column in zip(*table, strict=True)]


def _one_for_each_line(told: Mapping[str, Sequence[Any]], count: int) -> None:
    for said, values in told.items():
        if len(values) != count:
            raise ValueError(
                f"{said} has {len(values)} numbers and minutes {count}; give one for each line"
            )


def _numbers(said: str, values: Sequence[float], most: float = math.inf) -> None:
    for line, value in enumerate(values):
        if not (0.0 <= value <= most and math.isfinite(value)):
            instead = "0 or more" if most > 1.0 else "a probability, 0 to 1"
            raise ValueError(f"{said}[{line}] is {value}; give {instead}")


def checked(numbers: Iterable[int], count: int, said: str) -> tuple[int, ...]:
    """Line numbers, each of them one of `count` lines and told once; ValueError otherwise."""
    try:
        lines = tuple(index(number) for number in numbers)
    except TypeError:
        raise ValueError(
            f"{said} holds something that numbers no line; give whole numbers"
        ) from None
    for line in lines:
        if not 0 <= line < count:
            raise ValueError(
                f"{said} names line {line}; the lines are numbered 0 to {count - 1}"
            )
    if len(set(lines)) < len(lines):
        raise ValueError(f"{said} names a line twice; name each line once")
    return lines


def _closed(count: int, after: Pairs) -> list[int]:
    """For each line all that stand before it, near and far; ValueError where a line would stand before itself."""
    before = [0] * count
    for pair in after:
        told = tuple(pair)
        if len(told) != 2:
            raise ValueError(
                f"after holds {told}; give pairs of lines, the earlier one first"
            )
        if told[0] == told[1]:
            raise ValueError(
                f"after says that line {told[0]} comes before itself; take the pair out"
            )
        earlier, later = checked(told, count, "after")
        before[later] |= 1 << earlier
    for middle in range(count):
        for line in range(count):
            if before[line] >> middle & 1:
                before[line] |= before[middle]
    for line in range(count):
        if before[line] >> line & 1:
            raise ValueError(
                f"after leads in a circle through line {line}; take one of its pairs out"
            )
    return before


def bits(number: int) -> Iterator[int]:
    """The places of the ones in a number, lowest first.

    >>> list(bits(0b10110))
    [1, 2, 4]
    """
    while number:
        lowest = number & -number
        yield lowest.bit_length() - 1
        number ^= lowest
