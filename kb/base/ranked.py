"""Names ranked by an amount each has: a belief, a number of jobs, a saving."""

from __future__ import annotations

from collections.abc import Mapping


def most_first(amounts: Mapping[str, float]) -> list[str]:
    """The names, that with the largest amount first, those with equal amounts by name.

    >>> most_first({"fan": 1, "pack": 3, "board": 1})
    ['pack', 'board', 'fan']
    """
    return sorted(amounts, key=lambda name: (-amounts[name], name))
