"""Noise: how well a text on another subject, or of a fault that is not here, fits by chance."""

from __future__ import annotations

from collections.abc import Collection
from heapq import nlargest
from itertools import pairwise

#: Numbers of different words, and what the best of 120 entries reaches by chance with so many: one or two words leave
#: little room for it, and of a long story most words stand in no entry, each of which costs every entry a little.
#: Chosen on 359 lines on other subjects, 1,320 complaints and 64 short ones ("wont turn on"), so that few of either are
#: taken for the other.
BY_LENGTH = ((2, 3.8), (6, 5.5), (10, 5.5), (16, 2.0))
#: What each of the first words that nobody here knows speaks for another subject, and each further one: people tell
#: of their lives too, and whoever writes half in another language has many such words.
UNKNOWN_WORD, FIRST_UNKNOWN, FURTHER_UNKNOWN = 2.0, 2.0, 0.2
#: What each thing of another subject speaks against all entries, and so many of them at most.
ELSEWHERE, MOST_ELSEWHERE = 5.0, 2
#: A text of a fault that is here has mostly one entry that stands out: the level falls by so much of how far the best
#: is above the second, from the usual distance on and up to the most that tells.
STANDING_OUT, USUAL_DISTANCE, MOST_DISTANCE = 0.5, 1.8, 5.5


def by_chance(words: int, unknown: float = 0.0, elsewhere: int = 0) -> float:
    """The fit (natural logarithm) that a text of so many different words reaches by chance.

    So many of the words are `unknown`, so many name things of other subjects. Straight between the lengths of
    `BY_LENGTH`, level beyond them.

    >>> by_chance(1), by_chance(4), by_chance(7), by_chance(13), by_chance(40, unknown=3.0), by_chance(4, elsewhere=1)
    (3.8, 4.65, 5.5, 3.75, 6.2, 9.65)
    """
    level = BY_LENGTH[-1][1]
    for (shorter, low), (longer, high) in pairwise(BY_LENGTH):
        if words <= longer:
            level = low + (high - low) * max(words - shorter, 0) / (longer - shorter)
            break
    first = min(unknown, FIRST_UNKNOWN)
    return (
        level
        + UNKNOWN_WORD * first
        + FURTHER_UNKNOWN * (unknown - first)
        + ELSEWHERE * min(elsewhere, MOST_ELSEWHERE)
    )


def standing_out(scores: Collection[float]) -> float:
    """How far the level of chance falls because one entry stands out; negative where none does.

    >>> standing_out([9.8, 2.0]), standing_out([3.0, 2.9]), standing_out([3.0])
    (1.85, -0.85, 1.85)
    """
    best, *others = nlargest(2, scores) or [0.0]
    distance = min(best - others[0], MOST_DISTANCE) if others else MOST_DISTANCE
    return STANDING_OUT * (distance - USUAL_DISTANCE)
