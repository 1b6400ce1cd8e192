"""The outlook of every machine on a pile, as the numbers that one sentence about it needs."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from kb.machines.pile.division import Division, divided
from kb.machines.pile.policy import next_step
from kb.machines.pile.prices import Prices, priced, rate
from kb.machines.pile.waiting import Offer, Pile, PileStep, Remedy, Waiting, offers

Turn = Literal["next", "take", "give", "later", "part", "no way"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """One machine: how likely it comes to work, in how many minutes, and what else hangs on it.

    `turn` says what to do: it is *next*; *take* it in its turn; *give*: its parts bring more than itself; *later*:
    a minute on it brings less than a minute is worth now; *part*: it waits for a part that cannot be had now; *no
    way*: its cause has no repair. `against_next` is what a minute here brings, as a share of a minute on the next
    machine. `frees` are the machines that its parts are meant for now, `wanted_by` all that are known to want one, by
    pool. `step` is the next step, on the next machine alone.
    """

    tag: str
    turn: Turn
    chance: float
    minutes: float
    against_next: float
    frees: tuple[str, ...] = ()
    wanted_by: Mapping[str, tuple[str, ...]]
    step: PileStep | None = None


def outlooks(pile: Pile) -> list[Outlook]:
    """The outlook of every waiting machine: the next one first, the others by what a minute on them brings.

    >>> from kb.machines.pile.waiting import Piece
    >>> fan = Remedy(cause="fan stuck", belief=1.0, minutes=20, part="fan")
    >>> dead = Waiting(tag="P7-20", look=0, pieces=(Piece(part="fan", sound=0.9),))
    >>> first, other = outlooks(Pile(waiting=(dead, Waiting(tag="P7-12", look=0, remedies=(fan,))), minutes=60))
    >>> first.tag, first.turn, first.chance, first.step.donor
    ('P7-12', 'next', 0.9, 'P7-20')
    >>> other.turn, other.frees, other.wanted_by
    ('give', ('P7-12',), {'fan': ('P7-12',)})
    """
    step, looking = next_step(pile), _Looking(pile, priced(pile), divided(pile))
    wanted = _wanted(pile)
    looked_at = {machine.tag: looking.at(machine) for machine in pile.waiting}
    _, _, best = looked_at[step.tag] if step else (0.0, 0.0, 0.0)
    found = []
    for machine in pile.waiting:
        chance, minutes, own_rate = looked_at[machine.tag]
        one = Outlook(
            tag=machine.tag,
            turn=looking.turn_of(machine, chance, own_rate),
            chance=chance,
            minutes=minutes,
            against_next=own_rate / best if best else 0.0,
            frees=_freed(machine.tag, step, looking.division),
            wanted_by=_wanting(machine, wanted),
        )
        is_next = step is not None and step.tag == machine.tag
        found.append(replace(one, turn="next", step=step) if is_next else one)
    return sorted(
        found, key=lambda one: (one.turn != "next", -one.against_next, one.tag)
    )


@dataclass(frozen=True)
class _Looking:
    """Looks at the machines of a pile one by one, at its prices and with its division."""

    pile: Pile
    prices: Prices
    division: Division

    def at(self, machine: Waiting) -> tuple[float, float, float]:
        """The chance of a machine, its expected minutes, and the machines a minute it brings."""
        if machine.unseen:
            return self._at_unseen(machine)
        minutes = machine.repair.minutes if machine.repair else 0.0
        chance = next(
            (task.chance for task in self.division.tasks if task.tag == machine.tag),
            0.0,
        )
        return chance, minutes, chance / minutes if minutes else 0.0

    def _at_unseen(self, machine: Waiting) -> tuple[float, float, float]:
        """The same of a machine whose cause is not known: by the repairs that would be followed."""
        minute = self.prices.minute
        followed = [
            remedy
            for remedy in machine.remedies
            if self.prices.worth(remedy) > minute * remedy.minutes
        ]
        chance = math.fsum(
            remedy.belief * self._served(remedy, machine) for remedy in followed
        )
        minutes = machine.look + math.fsum(
            remedy.belief * remedy.minutes for remedy in followed
        )
        return chance, minutes, rate(machine, self.prices)

    def _served(self, remedy: Remedy, machine: Waiting) -> float:
        """The chance that its part can be had: bought with the cents left, or good in another machine that gives."""
        if (
            not remedy.part
            or self.pile.prices.get(remedy.part, math.inf) <= self.pile.cents
        ):
            return 1.0
        pieces = [
            offer
            for offer in self._given
            if offer.part == remedy.part and offer.tag != machine.tag
        ]
        return 1 - math.prod(1 - offer.good for offer in pieces)

    @cached_property
    def _given(self) -> list[Offer]:
        """The pieces of donors, of machines of no use, and of those that the division gives up."""
        useless, given_up = [], []
        for machine in self.pile.waiting:
            if _has_no_way(machine):
                useless.append(machine)
            elif machine.tag in self.division.givers:
                given_up.append(machine)
        return list(offers([*self.pile.donors, *useless, *given_up]))

    def turn_of(self, machine: Waiting, chance: float, own_rate: float) -> Turn:
        """What to do with a machine of that chance that brings so many machines a minute."""
        if machine.tag in self.division.givers:
            return "give"
        if _has_no_way(machine):
            return "no way"
        if machine.repair and machine.repair.part and not chance:
            return "part"
        return "take" if own_rate > max(self.prices.minute, 0.0) else "later"


def _has_no_way(machine: Waiting) -> bool:
    """Whether its cause is known and has no repair."""
    return machine.known and not machine.remedies


def _freed(tag: str, step: PileStep | None, division: Division) -> tuple[str, ...]:
    """The machines that a machine's parts are meant for, by the next step and the division."""
    meant = {task.tag for task in division.tasks if task.donor == tag}
    if step is not None and step.donor == tag:
        meant.add(step.tag)
    return tuple(sorted(meant))


def _wanted(pile: Pile) -> Mapping[str, list[str]]:
    """The machines that are known to want a piece, by pool."""
    wanted = defaultdict[str, list[str]](list)
    for machine in pile.waiting:
        if machine.repair:
            wanted[machine.repair.part].append(machine.tag)
    return wanted


def _wanting(
    machine: Waiting, wanted: Mapping[str, list[str]]
) -> dict[str, tuple[str, ...]]:
    """The other machines that are known to want one of its pieces, by pool."""
    found = {}
    for piece in machine.pieces:
        others = [tag for tag in wanted.get(piece.part, ()) if tag != machine.tag]
        if others:
            found[piece.part] = tuple(sorted(others))
    return found
