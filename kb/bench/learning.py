"""The desk for learning from other shops: their pooled counts taken in, told and forgotten."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from kb.base.durable import make_folder, write_whole
from kb.base.trouble import Refusal
from kb.bench.sharing import models_seen
from kb.bench.shop import Desk
from kb.index import elsewhere
from kb.index.connections import over_a_sound_index
from kb.index.elsewhere import PooledCounts
from kb.office.own import others_only


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What was learned: the day of the counts, their jobs and shops, for so many of the library's sheets.

    Sheets and causes that the library does not have count nowhere until it has them. `believed` is false where the
    shop's settings switch other shops off. `left_out` are jobs of this shop itself, which the counts held.
    """

    made: str
    shops: int
    jobs: int
    sheets: int
    of_sheets: int
    unknown_sheets: int
    unknown_causes: int
    believed: bool
    left_out: int = 0


class LearningDesk(Desk):
    """Where what other shops had comes in."""

    @property
    def file(self) -> Path:
        """Where the counts are kept, in the shop's folder."""
        return self.shop.folder / elsewhere.FILE

    def learn(self, raw: bytes) -> Learned:
        """Keep these counts in place of those before; CountsTrouble for no counts, Refusal for older ones."""
        fresh, before = elsewhere.read(raw), self._kept()
        if before and fresh.made < before.made:
            raise Refusal(
                f"these counts are of {fresh.made}, those kept here of {before.made}; if the older ones are meant, "
                "forget those first: benchlore learn --forget"
            )
        others = self._without_own(fresh)
        make_folder(self.file.parent)
        write_whole(self.file, others.to_json().encode())
        return self._told(others)

    def standing(self) -> Learned | None:
        """What was learned last, None for nothing; CountsTrouble if its file cannot be read."""
        kept = elsewhere.read(self.file.read_bytes()) if self.file.is_file() else None
        return self._told(kept) if kept else None

    def forget(self) -> bool:
        """Forget it; whether there was anything."""
        there = self.file.is_file()
        self.file.unlink(missing_ok=True)
        return there

    def _kept(self) -> PooledCounts | None:
        """The counts that are kept; none where their file cannot be used, since new ones mend that."""
        try:
            return elsewhere.read(self.file.read_bytes())
        except (OSError, elsewhere.CountsTrouble):
            return None

    @over_a_sound_index
    def _without_own(self, counts: PooledCounts) -> PooledCounts:
        """The counts without what this shop had sent to its office."""
        return others_only(counts, self.shop.history(), models_seen(self.shop))

    @over_a_sound_index
    def _told(self, counts: PooledCounts) -> Learned:
        with self.shop.knowing() as knowledge:
            library = {
                entry.slug: {cause.slug for cause in entry.causes}
                for entry in knowledge.index.entries()
            }
        known = {
            slug: sheet for slug, sheet in counts.sheets.items() if slug in library
        }
        return Learned(
            made=counts.made,
            shops=counts.shops,
            jobs=counts.jobs,
            sheets=len(known),
            of_sheets=len(library),
            unknown_sheets=len(counts.sheets) - len(known),
            unknown_causes=sum(
                len(sheet.causes.keys() - library[slug])
                for slug, sheet in known.items()
            ),
            believed=self.shop.settings.elsewhere,
            left_out=counts.left_out,
        )
