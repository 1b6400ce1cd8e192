"""Expected minutes of repairing without testing: fixes tried by probability per minute, cover opened once."""

from __future__ import annotations

from collections.abc import Sequence
from operator import mul

#: Stands for no time at all in a ratio, so that a fix that takes none comes first.
_NO_TIME = 1e-9

#: Ratios that agree to this share are a tie.
_TIE = 1e-9


class Repairs:
    """The fixes still open, ready to be put in order for any weights of the causes.

    Weights are probabilities of the causes that need not add to one: every figure given scales with their sum, so
    that the figures of a test's outcomes simply add up.
    `cured_by[i]` is the fix that cures cause i, `inside[f]` says that fix f needs the cover off, and `opening` is
    the minutes that taking it off costs, once a job.
    """

    def __init__(
        self,
        minutes: Sequence[float],
        cured_by: Sequence[int],
        inside: Sequence[bool] = (),
        opening: float = 0.0,
    ) -> None:
        self.minutes = list(minutes)
        self.inside = list(inside) or [False] * len(self.minutes)
        self.opening = opening
        self._numbers = range(len(self.minutes))
        self._cured_by = list(cured_by)
        self._cures = [
            [cause for cause, fix in enumerate(cured_by) if fix == number]
            for number in self._numbers
        ]
        self._one_each = self._cured_by == list(self._numbers)
        self._per_minute = [1.0 / max(spent, _NO_TIME) for spent in self.minutes]
        closed = [
            self.minutes[fix] + (opening if self.inside[fix] else 0.0)
            for fix in cured_by
        ]
        self._own = (closed, [self.minutes[fix] for fix in cured_by])

    def expected(self, weights: list[float], opened: bool = True) -> float:
        """Minutes until fixed when the fixes are tried in the best order and nothing is tested.

        A fix is paid as long as the cause is not cured, the last one too, so the best order is by probability per
        minute (Smith 1956; for fault finding Kadane and Simon 1977; from memory). Under a closed cover the inside
        fixes stand in that order as one block (Ottosen and Jensen 2012, from memory).

        >>> round(Repairs([40, 10, 20], [0, 1, 2]).expected([0.5, 0.3, 0.2]), 9)
        42.0
        >>> inside = Repairs([10, 4, 4], [0, 1, 2], [False, True, True], opening=12)
        >>> round(inside.expected([0.4, 0.3, 0.3], opened=False), 9)
        20.8
        """
        masses = weights if self._one_each else self.masses(weights)
        ratios = list(map(mul, masses, self._per_minute))
        order = sorted(self._numbers, key=ratios.__getitem__, reverse=True)
        minutes, rest, spent = self.minutes, sum(masses), 0.0
        if not opened:
            before, order = self._around_the_block(order, masses, ratios)
            for fix in before:
                spent += minutes[fix] * rest
                rest -= masses[fix]
            spent += self.opening * max(rest, 0.0)
        for fix in order:
            spent += minutes[fix] * rest
            rest -= masses[fix]
        return spent

    def least(self, weights: list[float], opened: bool = True) -> float:
        """Minutes that no plan can save: the fix of the true cause, and the opening when that fix is inside.

        >>> Repairs([40, 10], [0, 1]).least([0.5, 0.5])
        25.0
        """
        least: float = sum(map(mul, weights, self._own[opened]))
        return least

    def first(self, weights: list[float], opened: bool = True) -> int:
        """The fix that the best order starts with; of equal ones the cheaper, then the lower number.

        >>> Repairs([40, 10, 20], [0, 1, 2]).first([0.5, 0.3, 0.2])
        1
        """
        masses = self.masses(weights)
        ratios = list(map(mul, masses, self._per_minute))
        order = sorted(self._numbers, key=ratios.__getitem__, reverse=True)
        if not opened:
            before, after = self._around_the_block(order, masses, ratios)
            order = [fix for fix in before if masses[fix] > 0.0] or after
        equal = [fix for fix in order if ratios[fix] >= ratios[order[0]] * (1.0 - _TIE)]
        return min(equal, key=lambda fix: (self.minutes[fix], fix))

    def masses(self, weights: list[float]) -> list[float]:
        """What the causes of each fix weigh together."""
        masses = [0.0] * len(self.minutes)
        for fix, weight in zip(self._cured_by, weights, strict=True):
            masses[fix] += weight
        return masses

    def without(self, weights: list[float], fix: int) -> list[float]:
        """The weights once the fix was tried in vain."""
        kept = list(weights)
        for cause in self._cures[fix]:
            kept[cause] = 0.0
        return kept

    def _around_the_block(
        self, order: list[int], masses: list[float], ratios: list[float]
    ) -> tuple[list[int], list[int]]:
        """The fixes to try before the cover comes off, and those for afterwards.

        The block is worth its best start: the highest probability per minute, opening included, of its first few;
        a further fix raises that only as long as its own ratio is higher.
        """
        inside, minutes = self.inside, self.minutes
        gained, spent, block = 0.0, max(self.opening, _NO_TIME), 0.0
        for fix in order:
            if inside[fix]:
                if ratios[fix] <= block:
                    break
                gained += masses[fix]
                spent += minutes[fix]
                block = gained / spent
        before: list[int] = []
        after: list[int] = []
        for fix in order:
            (after if inside[fix] or ratios[fix] < block else before).append(fix)
        return before, after
