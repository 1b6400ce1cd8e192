"""The front of a large pile: the machines that its minutes can reach, and those that would give them parts."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from heapq import nsmallest

from kb.machines.pile.prices import priced, rate
from kb.machines.pile.waiting import Pile, Waiting, offers

#: A pile of so many machines is its own front.
SMALL = 100
#: The front holds work for so many times the minutes, of machines to repair and of machines to look at each.
REACH = 1.5
#: So many pieces of one pool are kept beside those of donors and of the machines that are reached.
SPARE = 2


def front(pile: Pile) -> Pile:
    """The part of a pile that a play of its minutes comes to; a pile of up to `SMALL` machines as it is.

    Kept are, of the machines to be repaired next and of those to be looked at, the best by the minute until their work
    is half as much again as there is time for, and for each pool that they want the surest pieces of the others. All
    others would only stand by; machines, donors and the pieces that are left keep their order.

    >>> stuck = Waiting(tag="P7-12", look=20.0)
    >>> pile = Pile(waiting=(stuck,), minutes=60)
    >>> front(pile) is pile
    True
    """
    if len(pile.waiting) <= SMALL:
        return pile
    reached = {machine.tag for machine in _reached(pile)}
    wanted = Counter[str]()
    for machine in pile.waiting:
        if machine.tag in reached:
            wanted.update(machine.wants)
    others = [machine for machine in pile.waiting if machine.tag not in reached]
    kept = reached | _givers(others, wanted)
    here = [_slim(machine, wanted) for machine in pile.waiting if machine.tag in kept]
    donors = [_slim(donor, wanted) for donor in pile.donors]
    return replace(
        pile,
        waiting=tuple(here),
        donors=tuple(donor for donor in donors if donor.pieces),
    )


def _reached(pile: Pile) -> Iterable[Waiting]:
    """The machines that are come to, those to repair and those to look at."""
    prices = priced(pile)
    rates = {
        machine.tag: rate(machine, prices) for machine in pile.waiting if machine.unseen
    }
    had = {offer.part for offer in offers(pile.donors)} | set(pile.prices)

    def soonest(machine: Waiting) -> tuple[bool, float, str]:
        repair = machine.repair
        if repair is None:
            return False, -rates[machine.tag], machine.tag
        can_be_had = not repair.part or repair.part in had
        by_minute = repair.belief / max(repair.minutes, 1.0)
        return not can_be_had, -by_minute, machine.tag

    to_repair = [machine for machine in pile.waiting if machine.repair]
    to_look_at = [machine for machine in pile.waiting if machine.unseen]
    for machines in (to_repair, to_look_at):
        yield from _within(sorted(machines, key=soonest), REACH * pile.minutes)


def _within(machines: Sequence[Waiting], minutes: float) -> Iterable[Waiting]:
    """The first of them, until their work fills the minutes."""
    filled = 0.0
    for machine in machines:
        if filled >= minutes:
            return
        yield machine
        repairs = math.fsum(
            machine.need(remedy) * remedy.minutes for remedy in machine.remedies
        )
        filled += max(machine.look + repairs, 1.0)


def _givers(others: Sequence[Waiting], wanted: Mapping[str, int]) -> set[str]:
    """Of the others those that have the surest pieces of each pool that is wanted."""
    pieces = defaultdict[str, list[tuple[float, bool, str]]](list)
    for machine in others:
        for offer in machine.offers:
            if offer.part in wanted:
                pieces[offer.part].append((-offer.good, machine.known, machine.tag))
    return {
        tag
        for pool, given in pieces.items()
        for _, _, tag in nsmallest(min(SPARE, wanted[pool]), given)
    }


def _slim(machine: Waiting, wanted: Collection[str]) -> Waiting:
    """The machine with those of its pieces alone that somebody may want."""
    pieces = tuple(piece for piece in machine.pieces if piece.part in wanted)
    return replace(machine, pieces=pieces)
