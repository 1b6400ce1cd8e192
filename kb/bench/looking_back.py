"""The desk for looking back: what failed, what it cost and what to keep, over any days."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.bench.shop import Desk
from kb.index.connections import over_a_sound_index

# and where it is asked for: a search at the terminal need not wait for it
if TYPE_CHECKING:
    from kb.review.overview import Overview


class LookingBackDesk(Desk):
    """Where a shop looks back."""

    @over_a_sound_index
    def overview(self, model: str = "", since: str = "", until: str = "") -> Overview:
        """The review with trend, parts to keep, models compared and gaps; ValueError for what is no day."""
        from kb.review.overview import overview
        from kb.review.period import Period

        period = Period(since, until, self.shop.settings.zone)
        now = None if self.shop.clock_doubt() else self.shop.clock()
        with self.files.floor():
            # what machines turned out to be is brought in step, since jobs are counted by it
            pass
        with self.shop.knowing(model) as knowledge:
            history = self.files.usable_history()
            return overview(knowledge.index, history, knowledge.model, period, now=now)
