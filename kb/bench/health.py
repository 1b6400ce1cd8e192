"""The desk for the shop's health: whether its memory is whole, in step and in a backup, and what people should know."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.base import shares
from kb.base.worded import worded
from kb.bench.shop import Desk
from kb.history import History
from kb.history.trouble import HistoryTrouble
from kb.index import elsewhere, refresh
from kb.index.connections import over_a_sound_index
from kb.index.index import Index
from kb.model import told_of_unread

# and where they are asked for: a search at the terminal need not wait for them
if TYPE_CHECKING:
    from kb.history.copies.register import BackedUp
    from kb.history.dates import Misdated

#: So often the index is compared with a history in which others save meanwhile.
LOOKS = 3


BEING_READ = (
    "New entries, jobs and machines are being read; "
    "until that is done, answers, figures and lists do without them."
)


@dataclass(frozen=True, slots=True)
class State:
    """How the shop's memory stands beside the history itself."""

    entries: int
    remarks: int
    in_step: bool
    problems: tuple[str, ...]


class HealthDesk(Desk):
    """Where it is told what is wrong."""

    @over_a_sound_index
    def state(self) -> State:
        """Entries served, remarks on them, index in step, and what is wrong."""
        with self.shop.knowing() as knowledge:
            index = knowledge.index
            served, remarks = len(index.slugs()), len(index.sheets.remarks())
            damage, unread = index.damage(), index.sheets.unread()
            miscounted = () if damage else index.miscounted(knowledge.lexicon)
            problems = [
                index.about("words trouble"),
                index.about(elsewhere.TROUBLE),
                *map(str, unread),
            ]
        strayed = self._strayed()
        if damage:
            problems.append(
                worded(
                    "the index is damaged ({damage}); delete index.db, it is made anew",
                    damage=damage,
                )
            )
        problems.append(_out_of_step(strayed, miscounted))
        problems += [self.shop.settings.problem, self._on_a_share()]
        if not served:
            problems.append(worded("no entry can be served; see `benchlore check`"))
        in_step = strayed == "" and not miscounted
        return State(served, remarks, in_step, tuple(filter(None, problems)))

    def _strayed(self) -> str | None:
        """The first job that the index does not hold as the history does, empty if none; None without a history.

        What others save meanwhile is no stray: the index is brought up to date and looked at again.
        """

        def first(history: History) -> str:
            found = ""
            for _ in range(LOOKS):
                with self.files.reading() as (index, _):
                    found = refresh.strayed(index, history)
                    if not found or refresh.is_abreast(index, history):
                        break
            return found

        return self.shop.if_usable(first, None)

    def warnings(self) -> tuple[str, ...]:
        """What people should know while they go on working, a sentence each.

        A history that cannot be used (as this thread last saw it; entries are searched all the same), a clock
        that cannot be right, entries, words or settings of the shop's own that cannot be read.
        """
        told = [self.files.trouble(), self.shop.settings.problem]
        told += [BEING_READ if self.files.being_read() else "", self._on_a_share()]
        try:
            history = None if self.files.trouble() else self.files.usable_history()
            told.append(history.clock_warning() if history else "")
            told += _left_out(self.files.index())
        except HistoryTrouble as trouble:
            self.files.leave_alone(trouble)
        except sqlite3.Error:
            pass  # the index is derived; the next question makes it anew
        return tuple(dict.fromkeys(warning for warning in told if warning))

    @over_a_sound_index
    def left_out(self) -> tuple[str, ...]:
        """Which of the shop's own words and entries cannot be read, so that answers do without: a sentence each."""
        with self.files.reading() as (index, _):
            return tuple(filter(None, _left_out(index)))

    def _on_a_share(self) -> str:
        """That the shop's folder lies on another computer's disk, empty if it does not."""
        kind = shares.share_under(self.shop.folder)
        if not kind:
            return ""
        return worded(
            "{folder} lies on a network share ({kind}), whose locks may do nothing, so that saved "
            "records can be lost: move the folder to a disk of this computer, and let the others use the "
            "pages",
            folder=self.shop.folder,
            kind=kind,
        )

    def misdated(self) -> Misdated:
        """The records with a date that cannot be right; none while the history cannot be used."""
        from kb.history.dates import Misdated, misdated

        doubted = bool(self.shop.clock_doubt())
        return self.shop.if_usable(
            lambda history: misdated(history, self.shop.clock(), doubted), Misdated()
        )

    def backed_up(self, thorough: bool = False) -> BackedUp:
        """How far the history is in the backups known of; while it cannot be used, which backups there are.

        With `thorough` those that count are read whole.
        """
        from kb.history.copies.register import backed_up

        folder, now = self.shop.folder, self.shop.clock()
        found = self.shop.if_usable(
            lambda history: backed_up(history, folder, now, thorough), None
        )
        return found or backed_up(None, folder, now, thorough)

    def trouble(self) -> str:
        """Why this thread could not use the history when it last read, empty if it could."""
        return self.files.trouble()


def _out_of_step(strayed: str | None, miscounted: Sequence[str]) -> str:
    """What is wrong where the index holds another job, or other sums, than it should; empty if it holds all right."""
    if strayed:
        return worded(
            "the index does not hold job {strayed} as the history does, so that figures are wrong; "
            "delete index.db, it is made anew",
            strayed=strayed,
        )
    if miscounted:
        return worded(
            "the index does not hold the sums of its own jobs ({tables}), so that figures are wrong; "
            "delete index.db, it is made anew",
            tables=", ".join(miscounted),
        )
    return ""


def _left_out(index: Index) -> tuple[str, ...]:
    """What is said of own words, own entries and counts of other shops that cannot be read; empty where they can."""
    return (
        index.about("words trouble"),
        told_of_unread(index.sheets.unread()),
        index.about(elsewhere.TROUBLE),
    )
