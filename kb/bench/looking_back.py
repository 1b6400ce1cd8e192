"""The desk for looking back: what failed, what it cost and what to keep, over any days."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from kb.bench.shop import Desk, Shop
from kb.index.connections import over_a_sound_index

# and where it is asked for: a search at the terminal need not wait for it
if TYPE_CHECKING:
    from kb.review.kept import KeptSums
    from kb.review.overview import Overview

#: A history of more jobs is counted when it is asked for: at its start a server has better to do for so many seconds.
MOST_COUNTED = 200_000


class LookingBackDesk(Desk):
    """Where a shop looks back; the sums of all jobs are kept, and what was closed since is added to them."""

    def __init__(self, shop: Shop) -> None:
        super().__init__(shop)
        self._kept: KeptSums | None = None
        self._one_at_a_time = threading.Lock()

    @over_a_sound_index
    def overview(self, model: str = "", since: str = "", until: str = "") -> Overview:
        """The review with trend, parts to keep, models compared and gaps; ValueError for what is no day."""
        from kb.review.kept import KeptSums
        from kb.review.overview import overview
        from kb.review.period import Period

        period = Period(since, until, self.shop.settings.zone)
        now = None if self.shop.clock_doubt() else self.shop.clock()
        with self.files.floor():
            # what machines turned out to be is brought in step, since jobs are counted by it
            pass
        with self.shop.knowing(model) as knowledge, self._one_at_a_time:
            history = self.files.usable_history()
            self._kept = kept = self._kept or KeptSums()
            index, model = knowledge.index, knowledge.model
            return overview(index, history, model, period, now=now, kept=kept)

    def warm(self) -> None:
        """Count all jobs, so that the first review is as quick as later ones.

        For a thread of its own. A history of very many jobs is left to its reviews.
        """
        with self.shop.beforehand():
            with self.shop.knowing() as knowledge:
                jobs = sum(knowledge.index.jobs.tallied().values())
            if jobs <= MOST_COUNTED:
                self.overview()
