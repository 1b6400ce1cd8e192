"""Lots: purchases of machines, with how many of each stand in which state and what is known of the purchase."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from kb.base.ranked import most_first
from kb.history import kinds
from kb.history.jobs import body_of
from kb.history.record import Record
from kb.history.standing import standing
from kb.machines.units import FloorState, FloorUnit, NextStep


@dataclass(frozen=True, slots=True, kw_only=True)
class LotTold:
    """What was told of a purchase: when, from whom, for how much (whole cents), and how many machines were claimed."""

    lot: str
    bought_on: str = ""
    seller: str = ""
    cents: int = 0
    freight_cents: int = 0
    claimed: int = 0
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """A lot: its name (empty for machines of no lot), what was told of it, and its machines by tag.

    `way` is how far they have come, each number of those before it.
    """

    name: str
    told: LotTold
    units: tuple[FloorUnit, ...]
    states: Mapping[FloorState, int] = field(default_factory=dict)

    @property
    def came_in(self) -> int:
        """How many machines the shop has seen of it."""
        return len(self.units)

    @property
    def is_done(self) -> bool:
        """Whether all of its machines have left."""
        return bool(self.units) and self.states[FloorState.GONE] == self.came_in

    @property
    def models(self) -> tuple[str, ...]:
        """Its models, most frequent first."""
        return tuple(most_first(Counter(unit.line.model for unit in self.units)))

    @property
    def way(self) -> tuple[Drop, ...]:
        """The steps of its way: came in, repaired or sound, ready, gone; with what is left behind at each."""
        return _way(self.states)


@dataclass(frozen=True, slots=True)
class Drop:
    """A step of the way of a lot: how many machines came so far, and how many of these go no further, by state."""

    step: str
    reached: int
    left: Mapping[FloorState, int]


def lot_of(name: str, told: LotTold, units: Sequence[FloorUnit]) -> Lot:
    """A lot with its machines counted."""
    counted = Counter(unit.state for unit in units)
    return Lot(
        name=name,
        told=told,
        units=tuple(units),
        states={state: counted[state] for state in FloorState},
    )


def lots_told(records: Iterable[Record]) -> dict[str, LotTold]:
    """What records tell of lots, by folded name; a later record corrects what an earlier one said, struck ones go."""
    told: dict[str, dict[str, object]] = {}
    for record in standing(records):
        if record.kind == kinds.LOT.name:
            body = body_of(record)
            known = told.setdefault(lot_key(str(body.get("lot", ""))), {})
            known |= {
                key: value for key, value in body.items() if value not in ("", None)
            }
    return {key: _told(body) for key, body in told.items()}


def lot_key(name: str) -> str:
    """What two spellings of a lot's name have in common: neither case nor blanks around it."""
    return name.strip().casefold()


def _told(body: Mapping[str, object]) -> LotTold:
    numbers = {
        name: int(str(body.get(name) or 0))
        for name in ("cents", "freight_cents", "claimed")
    }
    texts = {
        name: str(body.get(name, "")) for name in ("lot", "bought_on", "seller", "note")
    }
    return LotTold(
        lot=texts["lot"],
        bought_on=texts["bought_on"],
        seller=texts["seller"],
        note=texts["note"],
        cents=numbers["cents"],
        freight_cents=numbers["freight_cents"],
        claimed=numbers["claimed"],
    )


#: Where on the way of a lot machines are left, by the state they are in.
LEFT_AT = {
    "came in": (FloorState.WAITING,),
    "looked at": (FloorState.BENCH, FloorState.PART, FloorState.DONOR),
    "repaired": (FloorState.CHECK,),
    "ready": (FloorState.READY,),
    "gone": (FloorState.GONE,),
}


def _way(states: Mapping[FloorState, int]) -> tuple[Drop, ...]:
    drops = []
    reached = sum(states.values())
    for step, left_at in LEFT_AT.items():
        left = {state: states[state] for state in left_at if states.get(state)}
        drops.append(Drop(step, reached, left))
        reached -= sum(left.values())
    return tuple(drops)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanting:
    """Which machines of a list are wanted; what is empty asks for nothing. `text` is looked for in tag and words."""

    state: str = ""
    model: str = ""
    step: str = ""
    who: str = ""
    text: str = ""

    def takes(self, unit: FloorUnit) -> bool:
        """Whether a machine is one of those."""
        line = unit.line
        asked = (
            (self.state, unit.state),
            (self.step, unit.step),
            (self.model, line.model),
            (self.who, line.with_),
        )
        if any(
            wanted and wanted.casefold() != str(has).casefold() for wanted, has in asked
        ):
            return False
        told = f"{line.tag} {line.words} {line.place}".casefold()
        return self.text.casefold().strip() in told


@dataclass(frozen=True, slots=True)
class RackShelf:
    """One shelf of the rack: its name, and the machines on it by place and tag."""

    name: str
    units: tuple[FloorUnit, ...]


def rack(units: Iterable[FloorUnit]) -> tuple[RackShelf, ...]:
    """The machines that are here, shelf by shelf; those without a place last. What is gone stands on no shelf.

    A shelf is what the places on it begin with: A of A3 and A12.
    """
    shelves: dict[str, list[FloorUnit]] = {}
    for unit in units:
        if unit.state is not FloorState.GONE:
            shelves.setdefault(shelf_of(unit.line.place), []).append(unit)
    ordered = sorted(shelves, key=lambda name: (not name, natural(name)))
    return tuple(
        RackShelf(name, tuple(sorted(shelves[name], key=_by_place))) for name in ordered
    )


def shelf_of(place: str) -> str:
    """The shelf of a place: what stands before its number.

    >>> shelf_of("A12"), shelf_of("window sill"), shelf_of("b-3"), shelf_of("7")
    ('A', 'window sill', 'B', '7')
    """
    name = place.strip()
    shelf = name.rstrip("0123456789").rstrip(" -./:") or name
    return shelf.upper() if len(shelf) <= 3 else shelf


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts numbers in a text by their size.

    >>> sorted(["A10", "A9", "a1"], key=natural)
    ['a1', 'A9', 'A10']
    """
    pieces = re.findall(r"[0-9]+|[^0-9]+", text.casefold())
    return tuple(
        (0, int(piece), "") if piece[0] in "0123456789" else (1, 0, piece)
        for piece in pieces
    )


def _by_place(unit: FloorUnit) -> tuple[object, ...]:
    return natural(unit.line.place), natural(unit.line.tag)


def steps_of(units: Iterable[FloorUnit]) -> tuple[NextStep, ...]:
    """The kinds of next step that come up among machines, in the order of the work."""
    found = {unit.step for unit in units}
    return tuple(step for step in NextStep if step in found)
