"""At hand: which parts a repair asks for can be had at once, from whom, or for how much, and who else waits for one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.base.worded import listed, worded
from kb.bench.front import Bench
from kb.history.units import Unit
from kb.machines.parts_told import PricePaid
from kb.machines.telling import paid_told
from kb.machines.units import is_unknown

if TYPE_CHECKING:  # loaded only where a donor stands or a part was bought
    from kb.bench.parts import PartOffer

#: A donor is named where its part serves at least this likely.
WORTH_NAMING = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class PartAtHand:
    """One part that a repair asks for: whether one came for this machine, the best donor, or what one costs and takes.

    `price` is None if none was ever bought; `waiting` are the tags of others that wait for one.
    """

    part: str
    is_here: bool = False
    offer: PartOffer | None = None
    price: PricePaid | None = None
    days: int | None = None
    waiting: tuple[str, ...] = ()

    @property
    def can_be_had(self) -> bool:
        """Whether anything can be said of it: it is here, a donor has one, or one was bought before."""
        return self.is_here or self.offer is not None or self.price is not None


@dataclass(frozen=True, slots=True)
class CameForIt:
    """A part that came for a machine and is fitted with a repair: its name, and the donor that gave it, if one did."""

    part: str = ""
    donor: str = ""


def came_for(bench: Bench, parts: Sequence[str], tag: str) -> CameForIt:
    """Which of the parts that a repair may ask for came for the machine of that tag last; nothing if none did."""
    if not tag.strip() or not parts or bench.machines.line(tag) is None:
        return CameForIt()
    unit = bench.machines.unit(tag)
    came = [part for part in unit.to_fit if part in parts]
    if not came:
        return CameForIt()
    return CameForIt(came[-1], _last_donor(unit, came[-1]))


def _last_donor(unit: Unit, part: str) -> str:
    """The donor of the part that came for a machine last; empty if that one was bought."""
    ways = [
        (one.seq, one.donor)
        for one in unit.taken
        if one.part == part and one.good != "no"
    ]
    ways += [(one.seq, "") for one in unit.pieces if one.part == part]
    _, donor = max(ways)
    return donor


def at_hand(
    bench: Bench, parts: Sequence[str], model: str, tag: str = ""
) -> tuple[PartAtHand, ...]:
    """What can be had of these parts for a model, or for the machine of that tag; nothing is said of the others.

    Costs one look into the index while no donor stands here and nothing was ever bought.
    """
    if not parts or is_unknown(model) or not bench.asking.has_parts():
        return ()
    came = _came_for(bench, tag)
    found = [_of_part(bench, part, model, tag, is_here=part in came) for part in parts]
    return tuple(one for one in found if one.can_be_had)


def told_at_hand(one: PartAtHand, currency: str) -> str:
    """The same in a sentence or two, the price in the shop's currency."""
    if one.is_here:
        return worded("It is here.")
    told = [_offer_told(one.offer)] if one.offer else []
    if one.price is not None:
        told.append(
            _price_told(
                paid_told(one.price, currency), one.days, is_other_way=bool(one.offer)
            )
        )
    if one.waiting:
        told.append(worded("Also wanted by {tags}.", tags=", ".join(one.waiting)))
    return listed(told, " ")


def _offer_told(offer: PartOffer) -> str:
    tag = offer.source.tag
    if offer.piece:
        return worded("One is in the drawer, from {origin}.", origin=offer.piece.origin)
    if offer.place:
        return worded("A donor on {place} has one: {tag}.", place=offer.place, tag=tag)
    return worded("A donor has one: {tag}.", tag=tag)


def _price_told(sums: str, days: int | None, is_other_way: bool) -> str:
    """What one costs and how long it takes, where that is known; it may be the other way beside a donor's."""
    if is_other_way and days is None:
        return worded("Or buy: {price}.", price=sums)
    if days is None:
        return worded("To buy: {price}.", price=sums)
    if is_other_way:
        return worded(
            "Or buy: {price}, about {n} day.|Or buy: {price}, about {n} days.",
            price=sums,
            n=days,
        )
    return worded(
        "To buy: {price}, about {n} day.|To buy: {price}, about {n} days.",
        price=sums,
        n=days,
    )


def _came_for(bench: Bench, tag: str) -> tuple[str, ...]:
    """The parts that came for a machine and are not fitted yet."""
    line = bench.machines.line(tag) if tag.strip() else None
    return line.to_fit if line else ()


def _of_part(
    bench: Bench, part: str, model: str, tag: str, is_here: bool
) -> PartAtHand:
    if is_here:
        return PartAtHand(part=part, is_here=True)
    sources = bench.parts.who_has(part, model, tag, least=WORTH_NAMING)
    return PartAtHand(
        part=part,
        offer=next(
            (one for one in sources.offers if one.source.chance >= WORTH_NAMING), None
        ),
        price=sources.price,
        days=sources.days,
        waiting=sources.waiting,
    )
