"""Counts of other shops for tests: thirty-one of them that had the pack of a battery in most jobs."""

from __future__ import annotations

from datetime import date

from kb.index.elsewhere import PooledCounts
from kb.office.pooled import SharedCount, pooled


def counts_of(
    entry: str,
    *,
    made: str = "2026-11-30",
    usual: str = "pack",
    habit: str = "light-board",
) -> PooledCounts:
    """Thirty-one shops with seven jobs each, six of the usual cause; on the Tern 13 another one is the habit."""
    rows = []
    for number in range(31):
        rows.append(SharedCount(f"shop {number}", "Skua 14", entry, usual, 4))
        rows.append(SharedCount(f"shop {number}", "Rail 15", entry, usual, 2))
        rows.append(SharedCount(f"shop {number}", "Tern 13", entry, habit, 1))
    return pooled(rows, date.fromisoformat(made))


def file_of(entry: str, made: str = "2026-11-30") -> bytes:
    """The same as a file."""
    return counts_of(entry, made=made).to_json().encode()
