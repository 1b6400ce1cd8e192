"""Better orders of many check-out lines by moving them, one line or a short run at a time, from several beginnings."""

from __future__ import annotations

import random
from collections.abc import Iterable
from itertools import chain, repeat
from typing import NamedTuple

from kb.machines.checkout.lines import TIE, CheckLines
from kb.machines.checkout.rules import as_listed, by_pairs, by_reach, ratio_rule

#: Lines that are moved together at most.
RUN = 3

#: How often the best order is shaken and moved anew is this number over the square of the lines, so that 30 lines take
#: about as long as 14; twice as often where lines have to follow others, for then they move less far in as much time.
SHAKES = 8_000

#: Every third time all the lines are put anywhere, otherwise a few of them.
FRESH, SHAKEN = 3, 6

#: Rounds of moves after which an order is left as it is: far more than ever happen, so that no rounding error, taken
#: for a gain, moves a line to and fro for ever.
ROUNDS = 200


def moved_order(lines: CheckLines) -> list[int]:
    """An order near the best: the best of four rules after moves, shaken and moved anew, always the same way."""
    best = _least(
        lines,
        [
            settled(lines, rule(lines))
            for rule in (ratio_rule, by_pairs, by_reach, as_listed)
        ],
    )
    chance = random.Random(0)
    count = len(lines.minutes)
    shakes = SHAKES // count**2 * (2 if any(lines.before) else 1)
    for turn in range(shakes):
        shaken = _shaken(lines, best, SHAKEN if turn % FRESH else 2 * count, chance)
        best = _least(lines, [best, settled(lines, shaken)])
    return settled(lines, best, RUN)


def ties_by_number(lines: CheckLines, order: Iterable[int]) -> list[int]:
    """The same minutes with lower numbers first: neighbours change places where that costs nothing."""
    walk = _Walk(lines, order)
    for last in range(len(walk.order) - 1, 0, -1):
        for place in range(last):
            first, second = walk.order[place : place + 2]
            if (
                second < first
                and not lines.before[second] >> first & 1
                and walk.is_tie(place)
            ):
                walk.move(place, 1, place + 1)
    return walk.order


def _least(lines: CheckLines, orders: list[list[int]]) -> list[int]:
    """The order with least minutes, the first of equal ones."""
    best, least = orders[0], lines.expected(orders[0])
    for order in orders[1:]:
        spent = lines.expected(order)
        if spent < least * (1.0 - TIE):
            best, least = order, spent
    return best


def settled(lines: CheckLines, order: list[int], longest: int = 1) -> list[int]:
    """The order once no move makes it better: of a line, or of a run of neighbours of up to that length."""
    walk = _Walk(lines, order)
    walk.move_lines()
    for _ in range(ROUNDS):
        if not walk.move_a_run(longest):
            break
        walk.move_lines()
    return walk.order


def _shaken(
    lines: CheckLines, order: list[int], times: int, chance: random.Random
) -> list[int]:
    """The order after so many lines were put where another stands, or as near as they may.

    Both are drawn by P(going on until there): what few machines ever come to is left alone.
    """
    shaken = list(order)
    drawn = iter(chance.choices(order, weights=lines.going_on(order), k=2 * times))
    for line, other in zip(drawn, drawn, strict=True):
        place = shaken.index(other)
        shaken.remove(line)
        earliest, latest = 0, len(shaken)
        for at, passed in enumerate(shaken):
            if lines.before[line] >> passed & 1:
                earliest = at + 1
            elif lines.before[passed] >> line & 1:
                latest = at
                break
        shaken.insert(min(max(place, earliest), latest), line)
    return shaken


class _Run(NamedTuple):
    """Lines that stand together, as one: their minutes there, P(going on after them), what they have with others."""

    spent: float
    going: float
    #: For each other line, what the run costs more behind it.
    row: list[float]
    #: For each other line, what that one costs more behind the run.
    column: list[float]


class _Walk:
    """An order under way, with what every line costs where it stands, so that a move is reckoned place by place.

    A run of lines B that changes places with its neighbour y changes the minutes of the two alone. With c the minutes
    of each as they stand, s = P(going on), w_By what y makes a repair in B cost more, w_yB the other way round:
    B y costs c_B + s_B·c_y, y B costs (c_y - w_yB) + s_y·(c_B + w_By), both times P(going on until there). What comes
    after costs the same. So each place further adds one closed term.
    """

    def __init__(self, lines: CheckLines, order: Iterable[int]) -> None:
        self.order = list(order)
        self._lines = lines
        self._spent = list(lines.alone)
        for place, line in enumerate(self.order):
            row = lines.again[line]
            self._spent[line] += sum([row[other] for other in self.order[:place]])
        self._enough = lines.expected(self.order) * TIE
        self._going = self._lines.going_on(self.order)

    def move_lines(self) -> None:
        """Put one line after another where it costs least, until none of them moves any more."""
        resting = 0
        for line in chain.from_iterable(repeat(range(len(self.order)), ROUNDS)):
            resting = (
                0 if self._move_if_better(self.order.index(line), 1) else resting + 1
            )
            if resting >= len(self.order):
                break

    def move_a_run(self, longest: int) -> bool:
        """Move the first run of two or more lines that can stand better; False if none can."""
        for length in range(2, longest + 1):
            for start in range(len(self.order) - length + 1):
                if self._move_if_better(start, length):
                    return True
        return False

    def is_tie(self, place: int) -> bool:
        """Whether the line at that place may change places with the next one for nothing."""
        return abs(self._swap_gain(place)) <= self._enough

    def move(self, start: int, length: int, place: int) -> None:
        """Take the run of lines out and put it in so that it begins at that place."""
        order, spent, again = self.order, self._spent, self._lines.again
        run = order[start : start + length]
        del order[start : start + length]
        passed = order[start:place] if place > start else order[place:start]
        sign = 1.0 if place > start else -1.0
        for line in run:
            row, column = again[line], self._lines.disturbed[line]
            for other in passed:
                spent[line] += sign * row[other]
                spent[other] -= sign * column[other]
        order[place:place] = run
        self._going = self._lines.going_on(self.order)

    def _move_if_better(self, start: int, length: int) -> bool:
        run = self._as_one(start, length)
        later, place_later = self._later(start, length, run)
        earlier, place_earlier = self._earlier(start, length, run)
        if min(later, earlier) >= -self._enough:
            return False
        self.move(start, length, place_later if later <= earlier else place_earlier)
        return True

    def _as_one(self, start: int, length: int) -> _Run:
        """The lines from there on as one line."""
        again, disturbed, goes_on = (
            self._lines.again,
            self._lines.disturbed,
            self._lines.goes_on,
        )
        first = self.order[start]
        if length == 1:
            return _Run(
                self._spent[first], goes_on[first], again[first], disturbed[first]
            )
        spent, going = 0.0, 1.0
        row = [0.0] * len(self.order)
        column = list(row)
        for line in self.order[start : start + length]:
            spent += going * self._spent[line]
            row = [
                sum_ + going * more for sum_, more in zip(row, again[line], strict=True)
            ]
            column = [
                sum_ + more for sum_, more in zip(column, disturbed[line], strict=True)
            ]
            going *= goes_on[line]
        return _Run(spent, going, row, column)

    def _later(self, start: int, length: int, run: _Run) -> tuple[float, int]:
        """The most that the run can save by standing later, as minutes below 0, and where it then begins."""
        spent, going, row, column = run
        costs, goes_on, before = self._spent, self._lines.goes_on, self._lines.before
        members = sum([1 << line for line in self.order[start : start + length]])
        ending, until = 1.0 - going, self._going[start]
        change, best, best_place = 0.0, 0.0, start
        for place, other in enumerate(self.order[start + length :], start + 1):
            if before[other] & members:
                break
            after_other = spent + row[other]
            change += until * (
                ending * costs[other]
                - column[other]
                + goes_on[other] * after_other
                - spent
            )
            spent = after_other
            until *= goes_on[other]
            if change < best:
                best, best_place = change, place
        return best, best_place

    def _earlier(self, start: int, length: int, run: _Run) -> tuple[float, int]:
        """The most that the run can save by standing earlier, as minutes below 0, and where it then begins."""
        spent, going, row, column = run
        costs, goes_on = self._spent, self._lines.goes_on
        followed = 0
        for line in self.order[start : start + length]:
            followed |= self._lines.before[line]
        change, best, best_place = 0.0, 0.0, start
        for place in range(start - 1, -1, -1):
            other = self.order[place]
            if followed >> other & 1:
                break
            after_other, cost = spent, costs[other]
            spent -= row[other]
            gained = (
                spent
                + going * (cost + column[other])
                - cost
                - goes_on[other] * after_other
            )
            change += self._going[place] * gained
            if change < best:
                best, best_place = change, place
        return best, best_place

    def _swap_gain(self, place: int) -> float:
        first, second = self.order[place : place + 2]
        spent, goes_on = self._spent, self._lines.goes_on
        first_after = spent[first] + self._lines.again[first][second]
        second_before = spent[second] - self._lines.again[second][first]
        as_is = spent[first] + goes_on[first] * spent[second]
        return self._going[place] * (
            second_before + goes_on[second] * first_after - as_is
        )
