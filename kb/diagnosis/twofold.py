"""Twofold complaints: whether a text tells of two faults at once, told clause by clause, and of which two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

#: What two faults must explain more than one does, in nats: a second one is believed only where the words demand it.
#: Chosen on voices-a and on pairs of complaints put together, so that of 440 complaints of one fault few are taken for
#: two (figures in tests/benchmarks/FIGURES.md).
CLEARLY = 12.0
#: What the clauses of each of the two must tell by themselves, over what they tell of the other one.
EACH = 6.0
#: What the clauses of each must tell of it at all.
LEAST = 5.0


@dataclass(frozen=True, slots=True)
class Twofold:
    """Two entries that explain the first and the last clauses of a text, and how much better than any one does."""

    first: int
    second: int
    gain: float


def twofold(clauses: Sequence[Mapping[int, float]]) -> Twofold | None:
    """The two entries that a text tells of, if its clauses cannot be one fault's; None of the usual complaint.

    `clauses` hold what each clause tells of every entry that is looked at (log P(words | entry) / P(words)). The text
    is parted where two entries explain it best, one all before and one all after.

    >>> twofold([{1: 14.0, 2: -2.0}, {1: -3.0, 2: 12.0}])
    Twofold(first=1, second=2, gain=15.0)
    >>> twofold([{1: 14.0, 2: -2.0}, {1: 3.0, 2: 4.0}]) is None
    True
    """
    entries = sorted(clauses[0]) if clauses else []
    whole = {entry: sum(clause[entry] for clause in clauses) for entry in entries}
    best: Twofold | None = None
    before = dict.fromkeys(entries, 0.0)
    for clause in clauses[:-1]:
        for entry in entries:
            before[entry] += clause[entry]
        after = {entry: whole[entry] - before[entry] for entry in entries}
        found = _parted(before, after, max(whole.values()))
        if found and (best is None or found.gain > best.gain):
            best = found
    return best


def _parted(
    before: Mapping[int, float], after: Mapping[int, float], alone: float
) -> Twofold | None:
    """The best entry of either part, if both are demanded; `alone` is what the best one explains of the whole."""
    first = max(before, key=before.__getitem__)
    second = max(after, key=after.__getitem__)
    gain = before[first] + after[second] - alone
    leads = (before[first] - before[second], after[second] - after[first])
    told = (before[first], after[second])
    if first == second or gain < CLEARLY or min(leads) < EACH or min(told) < LEAST:
        return None
    return Twofold(first, second, gain)
