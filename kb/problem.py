"""The guide's question in numbers: causes, fixes that cure them, tests that tell them apart, and the minutes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from operator import index
from typing import Any

#: The outcomes of a test may miss one by so much, for rounded figures; they are scaled to add up.
_ROUNDING = 0.02


@dataclass(frozen=True)
class Problem:
    """What may be wrong and what can be done about it.

    `prior[i]` is P(cause i), in any scale; `fix_of[i]` the fix that cures cause i (several causes may share one);
    `fix_minutes` and `test_minutes` bench minutes; `likelihood[t][i][o]` P(outcome o of test t | cause i).
    Taking the cover off costs `opening_minutes` once a job, before the first fix of `fix_inside` or test of
    `test_inside` (indexes, or a flag for each). Exactly one cause is present; outcomes are independent given the
    cause; a test is done at most once; a fix cures its causes for certain and nothing else, and the last one left
    still costs its minutes.

    Raises ValueError with one sentence when the shapes do not fit.
    """

    prior: Sequence[float]
    fix_of: Sequence[int]
    fix_minutes: Sequence[float]
    test_minutes: Sequence[float] = ()
    likelihood: Sequence[Sequence[Sequence[float]]] = ()
    opening_minutes: float = 0.0
    fix_inside: Sequence[int] = ()
    test_inside: Sequence[int] = ()

    def __post_init__(self) -> None:
        try:
            tables = tuple(tuple(tuple(map(float, row)) for row in table) for table in self.likelihood)
            plain = {
                "prior": tuple(map(float, self.prior)),
                "fix_of": tuple(map(index, self.fix_of)),
                "fix_minutes": tuple(map(float, self.fix_minutes)),
                "test_minutes": tuple(map(float, self.test_minutes)),
                "likelihood": tables,
                "opening_minutes": float(self.opening_minutes),
                "fix_inside": _indexes(self.fix_inside, len(self.fix_minutes)),
                "test_inside": _indexes(self.test_inside, len(self.test_minutes)),
            }
        except TypeError as trouble:
            raise ValueError(f"a problem is made of nested lists of numbers: {trouble}") from None
        for name, value in plain.items():
            object.__setattr__(self, name, value)
        _check(self)
        object.__setattr__(self, "likelihood", tuple(tuple(map(_scaled, table)) for table in tables))


def numbered(given: Iterable[int], count: int, what: str) -> list[int]:
    """The given numbers of fixes, tests or outcomes as plain integers; ValueError names one that is not there.

    >>> numbered((0, 2), 3, "fix")
    [0, 2]
    """
    found = [index(one) for one in given]
    for one in found:
        if not 0 <= one < count:
            raise ValueError(f"there is no {what} {one}: they are numbered from 0 to {count - 1}")
    return found


def _indexes(given: Sequence[int], count: int) -> tuple[int, ...]:
    """Indexes from indexes, or from one flag for each."""
    listed: list[Any] = list(given)
    if listed and all(isinstance(flag, bool) or type(flag).__name__ in ("bool", "bool_") for flag in listed):
        if len(listed) != count:
            raise ValueError(f"flags of what is inside must be as many as there are: {count}, not {len(listed)}")
        return tuple(at for at, flag in enumerate(listed) if flag)
    return tuple(sorted({index(at) for at in listed}))


def _scaled(row: tuple[float, ...]) -> tuple[float, ...]:
    whole = math.fsum(row)
    return row if abs(whole - 1.0) < 1e-12 else tuple(p / whole for p in row)


def _check(problem: Problem) -> None:
    causes, fixes, tests = len(problem.prior), len(problem.fix_minutes), len(problem.test_minutes)
    if not causes:
        raise ValueError("a problem needs at least one cause")
    if len(problem.fix_of) != causes or not all(0 <= fix < fixes for fix in problem.fix_of):
        raise ValueError("fix_of must name, for each cause, one of the fixes in fix_minutes")
    if len(problem.likelihood) != tests or any(len(table) != causes for table in problem.likelihood):
        raise ValueError("likelihood must hold, for each test, one row for each cause")
    if any(not table[0] or any(len(row) != len(table[0]) for row in table) for table in problem.likelihood):
        raise ValueError("the rows of a test must have the same outcomes, at least one")
    rows = [row for table in problem.likelihood for row in table]
    numbers = [*problem.prior, *problem.fix_minutes, *problem.test_minutes, problem.opening_minutes]
    if not all(math.isfinite(value) and value >= 0.0 for value in (*numbers, *(p for row in rows for p in row))):
        raise ValueError("probabilities and minutes must be finite and not below zero")
    if any(abs(math.fsum(row) - 1.0) > _ROUNDING for row in rows):
        raise ValueError("the outcomes of a test must add up to 1 for each cause")
    for name, inside, count in (("fix_inside", problem.fix_inside, fixes), ("test_inside", problem.test_inside, tests)):
        if not all(0 <= at < count for at in inside):
            raise ValueError(f"{name} names one that is not there")
