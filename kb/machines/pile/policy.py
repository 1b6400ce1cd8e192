"""The policy of a pile: its next step, found anew after all that was learned, to get the most working machines."""

from __future__ import annotations

from kb.machines.pile import endgame
from kb.machines.pile.division import Task, divided
from kb.machines.pile.prices import Prices, priced, rate
from kb.machines.pile.waiting import Kind, Pile, PileStep, Waiting


def next_step(pile: Pile) -> PileStep | None:
    """The next thing to do; None if nothing more can be expected of the minutes and cents left.

    Looks and repairs without a part come first, most machines a minute first, as long as they bring more than the
    price of a minute; then givers and receivers are chosen together among the machines known by then. The last few
    machines are played by everything that may show.
    """
    if endgame.is_small(pile):
        return endgame.solved(pile).step
    return by_prices(pile)


def by_prices(pile: Pile) -> PileStep | None:
    """The next step by prices and division alone, without looking at everything that may show."""
    prices = priced(pile)
    look = _best_look(pile, prices)
    repair = _quickest_repair(pile)
    if look and rate(look, prices) > prices.minute:
        if repair and repair.gain >= rate(look, prices):
            return repair
        return _look(look, rate(look, prices))
    tasks = divided(pile).tasks
    if tasks:
        return _step(
            min(
                tasks,
                key=lambda task: (-task.chance / max(task.minutes, 1e-9), task.tag),
            )
        )
    return _look(look, rate(look, prices)) if look else None


def _best_look(pile: Pile, prices: Prices) -> Waiting | None:
    unseen = [
        machine
        for machine in pile.waiting
        if machine.unseen and machine.look <= pile.minutes
    ]
    return min(
        unseen, key=lambda machine: (-rate(machine, prices), machine.tag), default=None
    )


def _quickest_repair(pile: Pile) -> PileStep | None:
    """The repair without a part that brings most a minute, among those that are to be made next on their machines."""
    steps = []
    for machine in pile.waiting:
        repair = machine.repair
        if repair and not repair.part and repair.minutes <= pile.minutes:
            steps.append(
                _step(
                    Task(tag=machine.tag, chance=repair.belief, minutes=repair.minutes)
                )
            )
    return min(steps, key=lambda step: (-step.gain, step.tag), default=None)


def _look(machine: Waiting, gain: float) -> PileStep:
    return PileStep(
        kind="look", tag=machine.tag, minutes=machine.look, chance=0.0, gain=gain
    )


def _step(task: Task) -> PileStep:
    return PileStep(
        kind=_kind(task),
        tag=task.tag,
        minutes=task.minutes,
        chance=task.chance,
        cents=task.cents,
        part=task.part,
        donor=task.donor,
        gain=task.chance / max(task.minutes, 1e-9),
    )


def _kind(task: Task) -> Kind:
    if task.donor:
        return "fit"
    return "buy" if task.part else "repair"
