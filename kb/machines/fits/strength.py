"""Strength of what is said before a part is tried, learned: how far models share it, and what a claim counts for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kb.machines.fits.families import (
    ALPHA,
    CLAIM,
    Links,
    Try,
    first_tries,
    learned_alpha,
    learned_claim,
)

#: First tries of all kinds, and of one kind, below which nothing is learned of that kind; claims likewise. People try
#: across models what they believe to go across, so that a kind nobody tried must not be told by the chargers.
FEW_TRIES, FEW_OF_A_KIND, FEW_CLAIMS = 10, 2, 10
#: Figures are rounded to tenths, so that one try more seldom moves them and what was reckoned stays remembered.
_TENTH = 0.1


@dataclass(frozen=True, slots=True)
class Strength:
    """What `kb.machines.fits.chance` is told of a kind of part: `alpha`, and what a claim counts for, `: 1`."""

    alpha: float = ALPHA
    claim: float = CLAIM


def strengths(tries: Mapping[str, Sequence[Try]]) -> dict[str, Strength]:
    """By kind of part the strength that the shop's tries tell, in the order of time; the usual one where few were made.

    Chargers of twelve models were tried and served, so two more models' chargers serve each other oftener than one
    time in four; of panels nobody tried one across, so nothing new is said:

    >>> chargers = [(f"model {number}", f"model {number + 1}", "worked") for number in range(0, 24, 2)]
    >>> found = strengths({"charger": chargers, "panel": [("model 1", "model 1", "worked")]})
    >>> found["charger"].alpha, found["panel"]
    (0.1, Strength(alpha=3.0, claim=7.0))
    """
    first = {part: first_tries(done) for part, done in tries.items()}
    worked, tried = _in_all(first.values())
    right, asked = _in_all(claims_tried(done) for done in tries.values())
    over_all = learned_alpha(worked, tried) if tried >= FEW_TRIES else ALPHA
    claim = (
        _rounded(learned_claim(right, asked, over_all))
        if asked >= FEW_CLAIMS
        else CLAIM
    )
    found = {}
    for part, (worked_here, tried_here) in first.items():
        is_known = tried >= FEW_TRIES and tried_here >= FEW_OF_A_KIND
        alpha = (
            _rounded(learned_alpha(worked, tried, worked_here, tried_here))
            if is_known
            else ALPHA
        )
        found[part] = Strength(alpha, claim)
    return found


def claims_tried(tries: Iterable[Try]) -> tuple[int, int]:
    """How many claims of pairs that nothing linked were tried later, and how many of these served: (served, tried).

    >>> claims_tried([("a", "b", "claimed"), ("b", "a", "worked"), ("a", "b", "failed"), ("c", "d", "failed")])
    (1, 1)
    """
    links = Links()
    waiting, served, tried = set[frozenset[str]](), 0, 0
    for giver, receiver, shown in tries:
        pair = frozenset((giver, receiver))
        was_new = links.joins(giver, receiver)
        if shown == "claimed" and was_new:
            waiting.add(pair)
        elif shown != "claimed" and pair in waiting:
            waiting.remove(pair)
            tried += 1
            served += shown == "worked"
    return served, tried


def _in_all(counts: Iterable[tuple[int, int]]) -> tuple[int, int]:
    listed = list(counts)
    return sum(worked for worked, _ in listed), sum(tried for _, tried in listed)


def _rounded(figure: float) -> float:
    return max(round(figure, 1), _TENTH)
