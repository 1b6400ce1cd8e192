"""The trend: counts by quarter of the year, without gaps, so that they can be drawn side by side."""

from __future__ import annotations

Quarters = tuple[tuple[str, int], ...]


def quarter(day: str) -> str:
    """The quarter of an ISO day or time.

    >>> quarter("2026-11-24T10:00:00Z")
    '2026-Q4'
    """
    return f"{day[:4]}-Q{(int(day[5:7]) + 2) // 3}"


def filled(counts: Quarters, first_day: str, last_day: str) -> Quarters:
    """Every quarter from the first day to the last, with 0 where nothing is counted.

    >>> filled((("2026-Q1", 2),), "2025-12-30", "2026-04-01")
    (('2025-Q4', 0), ('2026-Q1', 2), ('2026-Q2', 0))
    """
    if not first_day:
        return counts
    known = dict(counts)
    names = map(
        _name, range(_number(quarter(first_day)), _number(quarter(last_day)) + 1)
    )
    return tuple((name, known.get(name, 0)) for name in names)


def not_whole(first_day: str, last_day: str) -> frozenset[str]:
    """The quarters of which not every day lies between the first day and the last.

    >>> sorted(not_whole("2025-10-01", "2026-04-29"))
    ['2026-Q2']
    >>> not_whole("2026-01-01", "2026-03-31"), sorted(not_whole("2026-01-02", "2026-03-31"))
    (frozenset(), ['2026-Q1'])
    """
    if not first_day:
        return frozenset()
    begun, ended = quarter(first_day), quarter(last_day)
    late = first_day[5:10] not in ("01-01", "04-01", "07-01", "10-01")
    early = last_day[5:10] not in ("03-31", "06-30", "09-30", "12-31")
    return frozenset(name for name, cut in ((begun, late), (ended, early)) if cut)


def _number(name: str) -> int:
    """A quarter by its place among all quarters."""
    return int(name[:4]) * 4 + int(name[6]) - 1


def _name(number: int) -> str:
    return f"{number // 4:04d}-Q{number % 4 + 1}"
