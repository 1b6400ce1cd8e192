"""What is left in a donor: its parts that nobody took, how likely each is good, and which machines wait for one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from kb.bench.machines import Machine, MachineDesk
from kb.bench.parts import PartsDesk
from kb.machines import complaints
from kb.machines.parts_told import PartsTold
from kb.machines.units import FloorUnit

#: A part is named for a machine that waits for one if it fits there as likely as not.
LIKELY = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLeft:
    """A part that a donor can still give: how many, the chance that one is good, and the tags that wait for one."""

    part: str
    count: int
    good: float
    waiting: tuple[str, ...]


def parts_left(desk: PartsDesk, donor: Machine) -> tuple[PartLeft, ...]:
    """The parts that are left in a donor: those that machines wait for first, then the likeliest to be good."""
    told = desk.told()
    causes = complaints.believed(desk.answer(donor.stands))
    waits = [unit for unit in MachineDesk(desk.shop).units() if unit.line.wanted]
    left = []
    for held in desk.shop.customs.complete_machine().parts(donor.unit.model):
        count = held.count - told.gone.get((donor.unit.key, held.name), 0)
        if count > 0:
            good = desk.goodness(held.name, donor.unit, causes)
            waiting = tuple(_waiting(waits, told, held.name, donor.unit.model))
            left.append(
                PartLeft(part=held.name, count=count, good=good, waiting=waiting)
            )
    return tuple(sorted(left, key=lambda one: (not one.waiting, -one.good, one.part)))


def _waiting(
    waits: Iterable[FloorUnit], told: PartsTold, part: str, model: str
) -> Iterator[str]:
    """The machines that wait for a part which one of this model is likely to fit."""
    for unit in waits:
        if part in unit.line.wanted:
            known = told.fitting(part, model, unit.line.model)
            if known.likely >= LIKELY and known.verdict != "did not fit":
                yield unit.line.tag
