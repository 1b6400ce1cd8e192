"""Noise: the fit that a text on another subject reaches by chance, by its length; below it nothing tells of a fault."""

from __future__ import annotations

from itertools import pairwise

#: Numbers of words, and what the best of 120 entries reaches by chance with so many: one or two words leave little
#: room for it, and of a long story most words stand in no entry, each of which costs every entry a little.
#: Chosen on 359 lines on other subjects, 1,320 complaints and 64 short ones ("wont turn on"), so that few of either are
#: taken for the other.
BY_LENGTH = ((2, 4.0), (6, 6.0), (10, 6.0), (16, 2.5))
#: What a word that nobody here knows speaks for another subject: next to nothing, as people tell of their lives too.
UNKNOWN_WORD = 1.0


def by_chance(words: int, unknown: float = 0.0) -> float:
    """The fit (natural logarithm) that a text of so many words, so many of them unknown, reaches by chance.

    Straight between the lengths of `BY_LENGTH`, level beyond them.

    >>> by_chance(1), by_chance(4), by_chance(7), by_chance(13), by_chance(40, unknown=1.5)
    (4.0, 5.0, 6.0, 4.25, 4.0)
    """
    level = BY_LENGTH[-1][1]
    for (shorter, low), (longer, high) in pairwise(BY_LENGTH):
        if words <= longer:
            level = low + (high - low) * max(words - shorter, 0) / (longer - shorter)
            break
    return level + UNKNOWN_WORD * unknown
