"""The game tree of a small pile: all points it can come to, each valued once by the best step from there."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from kb.machines.pile.waiting import Kind, Pile, PileStep, Waiting, learned

#: Chances and machines below this are none.
_NOTHING = 1e-9
#: Stands for a machine that works and is off the pile.
_GONE = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Endgame:
    """The most working machines that any way through a small pile can expect, its first step, points looked at."""

    expected: float
    step: PileStep | None
    points: int


@dataclass(frozen=True, slots=True)
class _Status:
    """What is known of one machine or donor at some point: its look, the repair to be made next, its pieces.

    A repair has minutes, the pool of its part, and the chance that it is of the cause. `hopes` are minutes within which
    it may work, each with the chance of that.
    """

    machine: Waiting
    look: float | None
    repair: tuple[float, str, float] | None
    pieces: dict[str, float]
    hopes: tuple[tuple[float, float], ...]


def _donor(machine: Waiting) -> _Status:
    return _Status(
        machine,
        None,
        None,
        {piece.part: machine.good(piece) for piece in machine.pieces},
        (),
    )


def _waiting(machine: Waiting) -> _Status:
    first = machine.repair
    return _Status(
        machine=machine,
        look=machine.look if machine.unseen else None,
        repair=(first.minutes, first.part, first.belief) if first else None,
        pieces={piece.part: machine.good(piece) for piece in machine.pieces},
        hopes=tuple(
            (machine.minutes_until(one), one.belief) for one in machine.remedies
        ),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Move:
    """A step by places in the point: the machine, and the donor if any."""

    kind: Kind
    place: int
    minutes: float
    cents: int = 0
    part: str = ""
    donor: int = -1


Point = tuple[tuple[int, ...], float, int]


class GameTree:
    """All points that a small pile can come to, each valued once; statuses of machines are numbers."""

    def __init__(self, pile: Pile) -> None:
        self._prices = pile.prices
        self._statuses: list[_Status] = []
        self._numbers: dict[tuple[Waiting, bool], int] = {}
        self._shown: dict[int, list[tuple[float, int]]] = {}
        self._vain: dict[int, int] = {}
        self._given: dict[tuple[int, str], tuple[float, int, int]] = {}
        self._values: dict[Point, float] = {}
        machines = [self._number(machine, False) for machine in pile.waiting]
        donors = [self._number(donor, True) for donor in pile.donors]
        self._start: Point = (*machines, *donors), pile.minutes, pile.cents
        self._ample = pile.minutes >= _longest(pile)

    def solved(self) -> Endgame:
        """The value of the pile and the best first step; of equal steps the quickest."""
        moves = [
            (self._after(self._start, move), move) for move in self._moves(self._start)
        ]
        expected, move = max(
            moves,
            key=lambda found: (round(found[0], 9), -found[1].minutes),
            default=(0.0, None),
        )
        step = self._step(move, expected) if move and expected > _NOTHING else None
        return Endgame(expected=expected, step=step, points=len(self._values))

    def _step(self, move: _Move, expected: float) -> PileStep:
        statuses = [self._statuses[number] for number in self._start[0]]
        _, _, mends = statuses[move.place].repair or (0.0, "", 0.0)
        chance = mends * (
            statuses[move.donor].pieces[move.part] if move.kind == "fit" else 1.0
        )
        return PileStep(
            kind=move.kind,
            tag=statuses[move.place].machine.tag,
            minutes=move.minutes,
            chance=chance,
            cents=move.cents,
            part=move.part,
            donor=statuses[move.donor].machine.tag if move.donor >= 0 else "",
            gain=expected / max(self._start[1], 1.0),
        )

    def _number(self, machine: Waiting, is_donor: bool) -> int:
        key = machine, is_donor
        if key not in self._numbers:
            self._numbers[key] = len(self._statuses)
            self._statuses.append(_donor(machine) if is_donor else _waiting(machine))
        return self._numbers[key]

    def _value(self, point: Point) -> float:
        """The most working machines that can be expected from a point on."""
        if point in self._values:
            return self._values[point]
        best, most = 0.0, self._most(point)
        if most > _NOTHING:
            for move in self._moves(point):
                best = max(best, self._after(point, move))
                if best >= most - _NOTHING:
                    break
        self._values[point] = best
        return best

    def _most(self, point: Point) -> float:
        """The machines that may work yet, each looked at by itself with all minutes for it: no value is above it."""
        numbers, minutes, _ = point
        most = 0.0
        for number in numbers:
            if number != _GONE:
                most += sum(
                    belief
                    for needed, belief in self._statuses[number].hopes
                    if needed <= minutes + _NOTHING
                )
        return most

    def _moves(self, point: Point) -> Iterator[_Move]:
        """What can be done at a point. With time for everything a look costs nothing, so that it comes first."""
        looks = list(self._looks(point))
        if looks and self._ample:
            yield looks[0]
            return
        for place, number in enumerate(point[0]):
            if number != _GONE and self._statuses[number].repair:
                yield from self._repairs(point, place)
        yield from looks

    def _looks(self, point: Point) -> Iterator[_Move]:
        numbers, minutes, _ = point
        for place, number in enumerate(numbers):
            look = self._statuses[number].look if number != _GONE else None
            if look is not None and look <= minutes + _NOTHING:
                yield _Move(kind="look", place=place, minutes=look)

    def _repairs(self, point: Point, place: int) -> Iterator[_Move]:
        numbers, left, cents = point
        minutes, part, _ = self._statuses[numbers[place]].repair or (0.0, "", 0.0)
        if minutes > left + _NOTHING:
            return
        if not part:
            yield _Move(kind="repair", place=place, minutes=minutes)
            return
        for donor, number in enumerate(numbers):
            if (
                donor != place
                and number != _GONE
                and self._statuses[number].pieces.get(part, 0.0) > _NOTHING
            ):
                yield _Move(
                    kind="fit", place=place, minutes=minutes, part=part, donor=donor
                )
        price = self._prices.get(part)
        if price is not None and price <= cents:
            yield _Move(
                kind="buy", place=place, minutes=minutes, cents=price, part=part
            )

    def _after(self, point: Point, move: _Move) -> float:
        """The working machines expected if this move is made, and the best that follows whatever it shows."""
        numbers, minutes, cents = point
        left, rest = round(minutes - move.minutes, 6), cents - move.cents
        if move.kind == "look":
            shown = self._outcomes(numbers[move.place])
            return math.fsum(
                p * self._value((_put(numbers, move.place, new), left, rest))
                for p, new in shown
            )
        if move.kind != "fit":
            return self._tried(numbers, move.place, left, rest)
        good, if_good, if_bad = self._piece(numbers[move.donor], move.part)
        value = good * self._tried(
            _put(numbers, move.donor, if_good), move.place, left, rest
        )
        if good < 1 - _NOTHING:
            value += (1 - good) * self._value(
                (_put(numbers, move.donor, if_bad), left, rest)
            )
        return value

    def _tried(
        self, numbers: tuple[int, ...], place: int, minutes: float, cents: int
    ) -> float:
        """The working machines expected once a repair was made with a good part: it works now, or it was in vain."""
        _, _, mends = self._statuses[numbers[place]].repair or (0.0, "", 0.0)
        value = mends * (1 + self._value((_put(numbers, place, _GONE), minutes, cents)))
        if mends < 1 - _NOTHING:
            in_vain = _put(numbers, place, self._in_vain(numbers[place]))
            value += (1 - mends) * self._value((in_vain, minutes, cents))
        return value

    def _in_vain(self, number: int) -> int:
        """What a machine is once its next repair did not help."""
        if number not in self._vain:
            self._vain[number] = self._number(
                self._statuses[number].machine.after_in_vain(), False
            )
        return self._vain[number]

    def _outcomes(self, number: int) -> list[tuple[float, int]]:
        """What a look may show, with its chance."""
        if number not in self._shown:
            machine = self._statuses[number].machine
            likely = [one for one in machine.remedies if one.belief > 0]
            found = [
                (one.belief, self._number(machine.found(one), False)) for one in likely
            ]
            unlisted = 1 - math.fsum(belief for belief, _ in found)
            if unlisted > _NOTHING:
                found.append((unlisted, self._number(machine.found(None), False)))
            self._shown[number] = found
        return self._shown[number]

    def _piece(self, number: int, part: str) -> tuple[float, int, int]:
        """How likely a donor's piece is good, and what the donor is once it was, and once it was not."""
        if (number, part) not in self._given:
            status = self._statuses[number]
            if_good = self._number(
                learned(status.machine, part, True).without(part), True
            )
            if_bad = self._number(
                learned(status.machine, part, False).without(part), True
            )
            self._given[number, part] = status.pieces[part], if_good, if_bad
        return self._given[number, part]


def _longest(pile: Pile) -> float:
    """The minutes of everything that could be done: each look, each machine's longest repair, each piece in vain."""
    looks = math.fsum(machine.look for machine in pile.waiting)
    repairs, longest = [], defaultdict[str, float](float)
    for machine in pile.waiting:
        repairs.append(max([one.minutes for one in machine.remedies], default=0.0))
        if machine.ready:
            repairs.append(machine.remedies[0].minutes)
        for remedy in machine.remedies:
            longest[remedy.part] = max(longest[remedy.part], remedy.minutes)
    pieces = [
        piece for machine in (*pile.waiting, *pile.donors) for piece in machine.pieces
    ]
    in_vain = math.fsum(longest[piece.part] for piece in pieces)
    return looks + math.fsum(repairs) + in_vain


def _put(numbers: tuple[int, ...], place: int, number: int) -> tuple[int, ...]:
    return (*numbers[:place], number, *numbers[place + 1 :])
