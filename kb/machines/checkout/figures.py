"""The figures of a check-out list: what an order of its lines is reckoned from, and what finding a fault late costs."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from kb.library.checklist import CheckLine
from kb.machines.checkout.freshness import redo_minutes
from kb.machines.checkout.lines import read
from kb.machines.checkout.rules import as_listed
from kb.machines.checkout.sequence import expected_minutes, order


@dataclass(frozen=True)
class ListFigures:
    """Lines with the share of machines that fail each; figures by number, in the list's order.

    >>> lid, keys = (CheckLine(name=name, text="", minutes=took, depth=sits) for name, took, sits in
    ...              (("lid", 1, 3), ("keys", 5, 2)))
    >>> figures = ListFigures((lid, keys), {"lid": .05, "keys": .12})
    >>> figures.best_order(), figures.minutes_of(figures.best_order()), figures.minutes_of((1, 0))
    ((0, 1), 6.0, 6.25)
    """

    lines: tuple[CheckLine, ...]
    shares: Mapping[str, float]

    @cached_property
    def numbers(self) -> Mapping[str, int]:
        """The number of each line by its name."""
        return {line.name: number for number, line in enumerate(self.lines)}

    @cached_property
    def fails(self) -> list[float]:
        """The share of machines that fail each line; a step of work never fails."""
        return [0.0 if line.work else self.shares[line.name] for line in self.lines]

    @cached_property
    def ends(self) -> list[float]:
        """P(the machine's way ends here | the line fails)."""
        return [line.ends for line in self.lines]

    @cached_property
    def redo(self) -> list[list[float]]:
        """Minutes of each line that the usual repair of each makes necessary again."""
        return redo_minutes(self.lines)

    @cached_property
    def first(self) -> tuple[int, ...]:
        """The lines that stand before all others, as listed."""
        return tuple(number for number, line in enumerate(self.lines) if line.first)

    @cached_property
    def after(self) -> tuple[tuple[int, int], ...]:
        """Pairs of lines, the second of which comes after the first."""
        numbers = self.numbers
        return tuple(
            (numbers[name], numbers[line.name])
            for line in self.lines
            for name in line.after
        )

    @cached_property
    def closing(self) -> int | None:
        """The step of work that closes the machine: a repair that opens it undoes that. None if the list has none."""
        for number, line in enumerate(self.lines):
            if line.work and line.depth:
                return number
        return None

    def best_order(
        self, done: Collection[int] = (), left_out: Collection[int] = ()
    ) -> tuple[int, ...]:
        """The lines to do, in the order with least expected minutes, when some are done and others cannot be done now.

        Pinned lines stand first as listed. Those done cost nothing any more, but a repair makes them necessary again.
        """
        cut = self._cut(done, self._left(done, left_out))
        found = order(*cut.figures, first=cut.pinned, after=cut.pairs)
        return tuple(cut.chosen[place] for place in found[cut.done :])

    def listed_order(
        self, done: Collection[int] = (), left_out: Collection[int] = ()
    ) -> tuple[int, ...]:
        """The lines to do in the list's own order, as far as pinned lines and what comes after what allow."""
        cut = self._cut(done, self._left(done, left_out))
        rest = [place for place in range(len(cut.chosen)) if place not in cut.pinned]
        of_rest = as_listed(read(*cut.figures, cut.pairs).part(rest, ()))
        found = [*cut.pinned, *(rest[place] for place in of_rest)]
        return tuple(cut.chosen[place] for place in found[cut.done :])

    def minutes_of(self, way: Sequence[int], done: Collection[int] = ()) -> float:
        """Expected minutes of going through some lines in that order when others are done."""
        cut = self._cut([number for number in done if number not in way], way)
        return expected_minutes(*cut.figures, range(len(cut.chosen)))

    def found_late(
        self, line: int, way: Sequence[int], done: Collection[int] = ()
    ) -> float:
        """The minutes more that a line found bad costs after the machine is closed than now; see `found_late`.

        0 where the list has no step that closes it, or that is not on the way before which the line stands.
        """
        if self.closing is None or self.closing not in way:
            return 0.0
        return found_late(
            line, self.ends, self.redo, done=done, order=way, closing=self.closing
        )

    def _left(self, done: Collection[int], left_out: Collection[int]) -> list[int]:
        return sorted(set(range(len(self.lines))).difference(done, left_out))

    def _cut(self, done: Collection[int], left: Sequence[int]) -> _Cut:
        """The lines done and those left numbered anew; what comes after what binds those left that are not pinned."""
        before = sorted(done)
        chosen = [*before, *left]
        place = {number: at for at, number in enumerate(chosen)}
        first = [number for number in self.first if number in left]
        free = set(left).difference(first)
        pairs = [(a, b) for a, b in self.after if a in left and b in free]
        minutes, fails = [0.0] * len(before), [0.0] * len(before)
        for number in left:
            minutes.append(self.lines[number].minutes)
            fails.append(self.fails[number])
        return _Cut(
            chosen=chosen,
            done=len(before),
            minutes=minutes,
            fails=fails,
            ends=[self.ends[number] for number in chosen],
            redo=[[self.redo[i][j] for j in chosen] for i in chosen],
            pinned=[place[number] for number in (*before, *first)],
            pairs=[(place[a], place[b]) for a, b in pairs],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """Some lines numbered anew: those done first, which cost nothing and fail no more, then those left."""

    chosen: list[int]
    done: int
    minutes: list[float]
    fails: list[float]
    ends: list[float]
    redo: list[list[float]]
    pinned: list[int]
    pairs: list[tuple[int, int]]

    @property
    def figures(
        self,
    ) -> tuple[list[float], list[float], list[float], list[list[float]]]:
        """The first four arguments of `order` and of `expected_minutes`."""
        return self.minutes, self.fails, self.ends, self.redo


def found_late(
    line: int,
    ends: Sequence[float],
    redo: Sequence[Sequence[float]],
    *,
    done: Collection[int],
    order: Sequence[int],
    closing: int,
) -> float:
    """The minutes more that a line found bad costs after the closing line instead of now, when `done` lines are done.

    The expected minutes made necessary again, (1 - g) · the sum of w over the lines done, at both times: then are
    done those done now and those up to the closing line of the order, but for the line itself. ValueError where
    the order has no such closing line.

    >>> redo = [[0, 0, 0, 0], [4, 0, 7, 10], [0, 0, 0, 0], [0, 0, 0, 0]]
    >>> found_late(1, ends=[0, 0, 0, 0], redo=redo, done=[0], order=[0, 1, 2, 3], closing=3)
    17.0
    """
    if closing not in order:
        raise ValueError(
            f"the order does not hold line {closing}; name the line of closing up"
        )
    later = {*done, *order[: order.index(closing) + 1]} - {line}
    now = [other for other in done if other != line]
    more = sum(redo[line][other] for other in later) - sum(
        redo[line][other] for other in now
    )
    return (1.0 - ends[line]) * more
