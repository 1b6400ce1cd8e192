"""Transport of pieces from giver models to receiver models: the likeliest way to serve so many of each."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence

Fits = Mapping[tuple[str, str], float]

_NONE = -math.inf


class Transport:
    """Pieces of one kind handed to receivers one by one, so that all together stay as likely to serve as can be.

    `goods` are the chances of the pieces that each giver model has, `fits` P(fits) by (giver model, receiver model); a
    pair that is not named does not fit. `worth` is the sum of the logarithms of both. Each further piece goes along
    the best augmenting path, so that the whole is
    optimal for the numbers served so far (successive shortest paths: Ford & Fulkerson 1962, from memory).

    >>> boards = Transport({"Tern 13": [0.9, 0.6]}, {("Tern 13", "Tern 13"): 1.0, ("Tern 13", "Skua 14"): 0.8})
    >>> boards.serve("Tern 13"), boards.serve("Skua 14"), boards.serve("Skua 14")
    (True, True, False)
    >>> round(math.exp(boards.worth), 3), boards.sent
    (0.432, {('Tern 13', 'Tern 13'): 1, ('Tern 13', 'Skua 14'): 1})
    """

    def __init__(self, goods: Mapping[str, Sequence[float]], fits: Fits) -> None:
        # the best one last
        self._left = {giver: sorted(chances) for giver, chances in goods.items()}
        self._fits = {
            pair: math.log(chance)
            for pair, chance in fits.items()
            if chance > 0 and pair[0] in goods
        }
        self._receivers = sorted({receiver for _, receiver in self._fits})
        self._sent = defaultdict[tuple[str, str], int](int)
        self.worth = 0.0

    @property
    def sent(self) -> dict[tuple[str, str], int]:
        """How many pieces went from each giver model to each receiver model."""
        return {pair: count for pair, count in self._sent.items() if count}

    def serve(self, receiver: str) -> bool:
        """One piece more for a receiver; False, and nothing done, if none can be had, not even by handing others on."""
        reached, came_by = self._reached(receiver)
        best, last, giver = max(self._endings(reached), default=(_NONE, "", ""))
        if best == _NONE:
            return False
        self.worth += best
        self._left[giver].pop()
        while True:
            self._sent[giver, last] += 1
            if last == receiver:
                return True
            before, giver = came_by[last]
            self._sent[giver, last] -= 1
            last = before

    def _reached(
        self, receiver: str
    ) -> tuple[dict[str, float], dict[str, tuple[str, str]]]:
        """What it costs at best to leave each receiver one piece short instead of this one, and by what way."""
        reached = {receiver: 0.0}
        came_by: dict[str, tuple[str, str]] = {}
        for _ in self._receivers:
            changed = False
            for (giver, other), count in self._sent.items():
                for short in list(reached):
                    if not count or other == short or (giver, short) not in self._fits:
                        continue
                    gain = (
                        reached[short]
                        + self._fits[giver, short]
                        - self._fits[giver, other]
                    )
                    if gain > reached.get(other, _NONE) + 1e-12:
                        reached[other], came_by[other], changed = (
                            gain,
                            (short, giver),
                            True,
                        )
            if not changed:
                break
        return reached, came_by

    def _endings(self, reached: Mapping[str, float]) -> list[tuple[float, str, str]]:
        """The ways to end: a receiver left short, and a giver that still has a piece for it."""
        endings = []
        for (giver, receiver), fit in self._fits.items():
            if self._left[giver] and receiver in reached:
                endings.append(
                    (
                        reached[receiver] + fit + math.log(self._left[giver][-1]),
                        receiver,
                        giver,
                    )
                )
        return endings
