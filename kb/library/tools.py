"""The tools and parts that the entries' tests and fixes ask for, and which of them the shop lacks."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from kb.library.trade import Trade
from kb.model import Entry


@dataclass(frozen=True, slots=True)
class Tool:
    """A tool, or a part used like one: how many tests and fixes need it, and whether the shop lacks it."""

    name: str
    tests: int
    fixes: int
    lacking: bool


def tools(
    entries: Iterable[Entry], lacks: Collection[str], trade: Trade
) -> tuple[Tool, ...]:
    """What is needed or lacking, most tests first; a name without its one spelling is left to `benchlore check`."""
    tests: Counter[str] = Counter()
    fixes: Counter[str] = Counter()
    for entry in entries:
        tests.update(need for test in entry.tests for need in set(test.needs))
        fixes.update(need for fix in entry.fixes for need in set(fix.needs))
    names = ((tests.keys() | fixes.keys()) & trade.names) | set(lacks)
    found = [Tool(name, tests[name], fixes[name], name in lacks) for name in names]
    return tuple(sorted(found, key=lambda one: (-one.tests, -one.fixes, one.name)))
