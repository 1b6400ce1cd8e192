"""The demand for parts in the weeks ahead, by what was used: what to keep in the drawer."""

from __future__ import annotations

from dataclasses import dataclass

from kb.base.intervals import demand
from kb.review.sums import FailureSums

#: Three months.
AHEAD_DAYS = 91


@dataclass(frozen=True, slots=True)
class Needed:
    """A part: pieces used, how many of them a donor gave, and how many the days ahead will ask for (19 times in 20)."""

    part: str
    used: int
    from_donors: int
    expected: float
    low: int
    high: int


def needed(
    sums: FailureSums, seen_days: int, ahead_days: int = AHEAD_DAYS
) -> tuple[Needed, ...]:
    """Every part used in the days seen, most wanted first; see `kb.base.intervals.demand`.

    `high` is what to keep: a shelf with that many runs short in about one stretch of 40.
    """
    if seen_days < 1:
        return ()
    used, given = sums.all.parts, sums.all.given
    found = [
        Needed(part, count, given[part], *demand(count, seen_days, ahead_days))
        for part, count in used.items()
    ]
    return tuple(sorted(found, key=lambda one: (-one.used, one.part)))
