"""The rounds of a running server for the history: the backup of the day, a copy that follows, sweeping up."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from kb.base import durable
from kb.base.clock import Clock
from kb.history.backups import BACKUPS
from kb.history.copies.archive import read_manifest
from kb.history.copies.backup import Manifest, daily, renew
from kb.history.copies.members import in_words
from kb.history.copies.watch import Watch
from kb.history.ledger import Ledger
from kb.history.marks import Tip
from kb.history.trouble import NoHistory

#: Seconds between two looks at the history: a copy that follows is at most so far behind.
EVERY = 60.0

#: The copy that follows the history, in the folder it was given.
FOLLOWING = "benchlore-following.zip"


class Rounds(Watch):
    """Looks after a shop until stopped; what is left unfinished is swept up by the next start."""

    def __init__(
        self,
        shop: Path,
        clock: Clock,
        say: Callable[[str], None],
        copy_to: Path | None = None,
        every: float = EVERY,
    ) -> None:
        super().__init__("rounds", "no backup was made", say, every, every)
        self._shop = shop
        self._clock = clock
        self._copy_to = copy_to
        self._copied: Tip | None = None
        self._left_out = ""

    def look(self) -> None:
        """One round. Raises what the backups raise; a shop without a history is left in peace."""
        for folder in (self._shop, self._shop / "entries"):
            durable.sweep_unfinished(folder)
        durable.sweep(self._shop, "restore")
        durable.sweep(self._shop / BACKUPS, "backup")
        try:
            with Ledger.open(
                self._shop / "history.db", self._clock, create=False
            ) as ledger:
                tip = ledger.tip()
        except NoHistory:
            return
        if not tip.count:
            return
        try:
            if made_today := daily(self._shop, self._clock()):
                self._name_left_out(read_manifest(made_today))
        finally:  # the shop's own disk may be full, the other one is for that
            if self._copy_to is not None and tip != self._copied:
                made = renew(self._shop, self._copy_to / FOLLOWING, self._clock())
                self._copied = Tip(made.records, made.chain)
                self._name_left_out(made)

    def _name_left_out(self, manifest: Manifest | None) -> None:
        """Name the files that a backup could not take, once."""
        left_out = in_words(manifest.left_out) if manifest else ""
        if left_out and left_out != self._left_out:
            self.tell(f"the backups are without {left_out}")
        self._left_out = left_out
