"""What the complaints of machines make believe of their parts: suspicions of a donor's, remedies of a waiting one's."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from kb.diagnosis.answer import Outline
from kb.diagnosis.case import OPENING_MINUTES, PART_MINUTES
from kb.library.spread import Spread
from kb.machines.donors import Suspicion
from kb.machines.pile.waiting import Remedy, Waiting
from kb.model import Fix

#: Causes that are reckoned with, and the belief below which none is.
MOST_CAUSES, LEAST_BELIEF = 8, 0.01
#: Beginning on a machine of which nothing is known but that it is broken (common practice, no source).
FIRST_LOOK = 15.0

PoolOf = Callable[[str], str]


@dataclass(frozen=True, slots=True)
class BelievedCause:
    """A cause that a complaint may have, how much it is believed, and the fix for it, if its sheet has one."""

    name: str
    belief: float
    fix: Fix | None

    @property
    def minutes(self) -> float:
        """What its repair takes, the cover and the fetching of a part included."""
        if self.fix is None:
            return 0.0
        return (
            self.fix.minutes
            + PART_MINUTES * bool(self.fix.parts)
            + OPENING_MINUTES * self.fix.cover_off
        )

    def asks_for(self, part: str) -> bool:
        """Whether its repair may ask for that part."""
        return self.fix is not None and part in self.fix.parts


def believed(answer: Outline | None) -> tuple[BelievedCause, ...]:
    """The likeliest causes by an answer, most believed first; none without an answer."""
    if answer is None:
        return ()
    causes = [one for one in answer.causes if one.belief >= LEAST_BELIEF]
    ranked = sorted(causes, key=lambda one: (-one.belief, one.name))[:MOST_CAUSES]
    return tuple(BelievedCause(one.name, one.belief, one.fix) for one in ranked)


def suspicions(
    causes: Iterable[BelievedCause], spread: Spread
) -> tuple[Suspicion, ...]:
    """What a donor's causes make doubtful: all parts that their fixes may ask for, and those near where it spreads."""
    found = []
    for one in causes:
        asked, near = one.fix.parts if one.fix else (), spread.of(one.name)
        if asked or near:
            found.append(Suspicion(belief=one.belief, parts=asked, spreads=near))
    return tuple(found)


def remedies(causes: Iterable[BelievedCause], pool_of: PoolOf) -> Iterator[Remedy]:
    """The causes with their repairs, as the pile reckons with them; one without a fix is none."""
    for one in causes:
        if one.fix is not None:
            pools = tuple(map(pool_of, one.fix.parts))
            first = pools[0] if pools else ""
            yield Remedy(
                cause=one.name,
                belief=one.belief,
                minutes=one.minutes,
                part=first,
                suspects=pools[1:],
            )


def waiting(
    tag: str, answer: Outline, causes: Iterable[BelievedCause], pool_of: PoolOf
) -> Waiting:
    """A machine whose cause is looked for: the minutes until it is known are those until it works, less the repair."""
    found = tuple(remedies(causes, pool_of))
    repair = sum(one.belief * one.minutes for one in found)
    step = answer.next_step
    look = max(step.expected_minutes - repair, step.minutes) if step else FIRST_LOOK
    return Waiting(tag=tag, look=max(look, 1.0), remedies=found)


def wanting(
    tag: str, part: str, minutes: float, pool_of: PoolOf, answer: Outline | None = None
) -> Waiting:
    """A machine that wants a part, and how likely that mends it."""
    remedy = Remedy(
        cause=f"wants {part}", belief=1.0, minutes=minutes, part=pool_of(part)
    )
    return _first_of_all(tag, remedy, part, pool_of, answer)


def fitting(
    tag: str, part: str, minutes: float, pool_of: PoolOf, answer: Outline | None = None
) -> Waiting:
    """A machine for which the part that it waited for lies ready."""
    remedy = Remedy(cause=f"fit {part}", belief=1.0, minutes=minutes)
    return _first_of_all(tag, remedy, part, pool_of, answer)


def _first_of_all(
    tag: str, remedy: Remedy, part: str, pool_of: PoolOf, answer: Outline | None
) -> Waiting:
    """A machine with one remedy that is made first, and the causes that are left if it does not help.

    It is as sure as the causes that ask for the part where the answer proposes that repair, and sure where it does not:
    then a person said so, who knows more than is written down.
    """
    causes = believed(answer)
    asking = {one.name: one.belief for one in causes if one.asks_for(part)}
    step = answer.next_step if answer else None
    if step is None or step.kind != "fix" or f"{step.entry}/{step.name}" not in asking:
        return Waiting(tag=tag, look=0.0, remedies=(remedy,))
    mends = min(sum(asking.values()), 1.0)
    others = tuple(remedies([one for one in causes if one.name not in asking], pool_of))
    repairs = remedy.minutes + sum(one.belief * one.minutes for one in others)
    look = 0.0
    if mends < 1:
        look = max((step.expected_minutes - repairs) / (1 - mends), FIRST_LOOK)
    return Waiting(
        tag=tag,
        look=look,
        remedies=(replace(remedy, belief=mends), *others),
        ready=True,
    )


def parts_asked_for(machines: Iterable[Waiting]) -> Mapping[str, tuple[str, ...]]:
    """The pools that machines may want, with their tags."""
    asked: dict[str, tuple[str, ...]] = {}
    for machine in machines:
        for pool in sorted(machine.wants):
            asked[pool] = (*asked.get(pool, ()), machine.tag)
    return asked
