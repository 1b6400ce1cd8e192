"""Counts by quarter of the year, without gaps, so that they can be drawn side by side."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

Quarters = tuple[tuple[str, int], ...]


def quarter(day: str) -> str:
    """The quarter of an ISO day or time.

    >>> quarter("2026-11-24T10:00:00Z")
    '2026-Q4'
    """
    return f"{day[:4]}-Q{(int(day[5:7]) + 2) // 3}"


def by_quarter(days: Iterable[str]) -> Quarters:
    """How many of the days fall into each quarter, those without any left out.

    >>> by_quarter(["2026-02-03", "2026-03-31", "2026-10-01"])
    (('2026-Q1', 2), ('2026-Q4', 1))
    """
    return tuple(sorted(Counter(map(quarter, days)).items()))


def following(name: str) -> str:
    """The next quarter.

    >>> following("2026-Q4"), following("2026-Q1")
    ('2027-Q1', '2026-Q2')
    """
    year, number = int(name[:4]), int(name[6])
    return f"{year + 1:04d}-Q1" if number == 4 else f"{year:04d}-Q{number + 1}"


def filled(counts: Quarters, first_day: str, last_day: str) -> Quarters:
    """Every quarter from the first day to the last, with 0 where nothing is counted.

    >>> filled((("2026-Q1", 2),), "2025-12-30", "2026-04-01")
    (('2025-Q4', 0), ('2026-Q1', 2), ('2026-Q2', 0))
    """
    if not first_day:
        return counts
    known, found, name = dict(counts), [], quarter(first_day)
    while name <= quarter(last_day):
        found.append((name, known.get(name, 0)))
        name = following(name)
    return tuple(found)
