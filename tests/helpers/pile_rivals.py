"""Simple ways to go through a pile, to be beaten: first come, easiest first, likeliest first."""

from __future__ import annotations

from collections.abc import Callable

from helpers.piles import Policy
from kb.machines.pile.waiting import Pile, PileStep, Remedy, Waiting

Order = Callable[[Waiting], tuple[float | str, ...]]


def first_come(machine: Waiting) -> tuple[float | str, ...]:
    """In the order of the tags."""
    return (machine.tag,)


def easiest_first(machine: Waiting) -> tuple[float | str, ...]:
    """Fewest expected minutes, looking and repairing together."""
    if machine.repair:
        return machine.repair.minutes, machine.tag
    return machine.look + sum(
        one.belief * one.minutes for one in machine.remedies
    ), machine.tag


def likeliest_first(machine: Waiting) -> tuple[float | str, ...]:
    """The machine whose repair is likeliest to need no part first, then by tag."""
    repairs = (machine.repair,) if machine.repair else machine.remedies
    return -sum(one.belief for one in repairs if not one.part), machine.tag


def in_that_order(
    order: Order, donors: bool = True, buys_first: bool = False
) -> Policy:
    """Machines in an order: look, repair; a part comes from a donor, else it is bought, else the machine is parked.

    With `buys_first` money goes first, and donors serve once a part is too dear.

    Donors are those already cut up, then machines parked for want of a part, those with the fewest minutes lost first;
    a machine nobody has looked at is never cut up. What no longer fits the minutes left is passed over.
    """

    def policy(pile: Pile) -> PileStep | None:
        known = [machine for machine in pile.waiting if machine.repair]
        steps = [
            step
            for machine in sorted(known, key=order)
            if (step := _repair(pile, machine, donors, buys_first))
        ]
        ready = [step for step in steps if step.minutes <= pile.minutes]
        if ready:
            return ready[0]
        unseen = [
            machine
            for machine in pile.waiting
            if machine.unseen and machine.look <= pile.minutes
        ]
        if not unseen:
            return None
        machine = min(unseen, key=order)
        return PileStep(kind="look", tag=machine.tag, minutes=machine.look, chance=0.0)

    return policy


def _repair(
    pile: Pile, machine: Waiting, donors: bool, buys_first: bool
) -> PileStep | None:
    remedy = machine.remedies[0]
    if not remedy.part:
        return PileStep(
            kind="repair", tag=machine.tag, minutes=remedy.minutes, chance=1.0
        )
    donor = _donor(pile, machine, remedy) if donors else None
    price = pile.prices.get(remedy.part)
    buys = price is not None and price <= pile.cents
    if donor and not (buys and buys_first):
        return PileStep(
            kind="fit",
            tag=machine.tag,
            minutes=remedy.minutes,
            chance=0.9,
            part=remedy.part,
            donor=donor.tag,
        )
    if price is None or not buys:
        return None
    return PileStep(
        kind="buy",
        tag=machine.tag,
        minutes=remedy.minutes,
        chance=1.0,
        part=remedy.part,
        cents=price,
    )


def _donor(pile: Pile, machine: Waiting, remedy: Remedy) -> Waiting | None:
    """The best piece of a donor already cut up, else of a parked machine."""
    for group in (
        pile.donors,
        [one for one in pile.waiting if not one.unseen and _is_parked(pile, one)],
    ):
        offers = [
            (donor, piece)
            for donor in group
            if donor.tag != machine.tag
            for piece in donor.pieces
        ]
        found = [
            (donor.good(piece), donor)
            for donor, piece in offers
            if piece.part == remedy.part
        ]
        found = [(good, donor) for good, donor in found if good > 0.5]
        if found:
            return max(found, key=lambda pair: (pair[0], pair[1].tag))[1]
    return None


def _is_parked(pile: Pile, machine: Waiting) -> bool:
    """Whether it waits for a part that no money is left for."""
    if not machine.remedies:
        return True
    part = machine.remedies[0].part
    return bool(part) and (
        pile.prices.get(part) is None or pile.prices[part] > pile.cents
    )


#: The simple ways by name.
SIMPLE: dict[str, Policy] = {
    "first come, no donors": in_that_order(first_come, donors=False),
    "first come": in_that_order(first_come),
    "likeliest first": in_that_order(likeliest_first),
    "easiest first": in_that_order(easiest_first),
    "easiest first, buying first": in_that_order(easiest_first, buys_first=True),
}
