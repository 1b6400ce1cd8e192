"""The desk for entries: sheets read, written, checked, illustrated and put away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from kb.base.worded import Worded
from kb.bench.settings import SettingsFile
from kb.bench.shop import Desk
from kb.diagnosis import cures
from kb.diagnosis.answer import EntryBelief
from kb.diagnosis.doing import headline, opening
from kb.index.connections import over_a_sound_index
from kb.index.remembered import Kept
from kb.library import shelf
from kb.library.customs import is_library
from kb.model import Entry, Fix, Remark, named_fix

# and where they are asked for: a search at the terminal need not wait for them
if TYPE_CHECKING:
    from kb.library import album
    from kb.library.tools import Tool
    from kb.review.catalogue import Catalogue

#: The shop's own files that are no entries.
OWN_FILES = ("words.toml", "shop.toml")


@dataclass(frozen=True, slots=True)
class SheetOnFile:
    """An entry with what the history says of it, where its text stands and what was remarked on it.

    If the shop's own text is `unread`, since nothing in it can be served, the entry is that of the stock. `doubts` say
    of each cure that leaves its part in doubt how far and why, by its test and outcome.
    """

    entry: Entry
    belief: EntryBelief
    own: bool
    text: str
    remarks: tuple[Remark, ...]
    unread: bool = False
    doubts: Mapping[tuple[str, str], Worded] = field(default_factory=dict)


class EntryDesk(Desk):
    """Where the sheets are: `entry` serves one, `sheet` shows it with the history and its file."""

    @over_a_sound_index
    def entry(self, slug: str) -> Entry | None:
        """The entry of that slug as it is served, or None."""
        with self.shop.knowing() as knowledge:
            return knowledge.entry(slug)

    @over_a_sound_index
    def fix(self, cause: str) -> Fix | None:
        """The fix for a cause (`entry/cause`), None where no sheet here has one."""
        return named_fix(cause, self.entry)

    def parts_for(self, cause: str) -> tuple[str, ...]:
        """The parts that the fix for a cause (`entry/cause`) asks for; none where no sheet here has one."""
        fix = self.fix(cause)
        return fix.parts if fix else ()

    def sheet(self, slug: str, model: str = "") -> SheetOnFile | None:
        """The sheet of an entry with the history beside each cause, and its file; None if nothing can be served."""
        kept = self.shop.shelf.sheet(slug)
        with self.shop.knowing(model) as knowledge:
            entry = knowledge.entry(slug)
            if entry is None or kept is None:
                return None
            belief = knowledge.of_entry(entry)
            doubts = cures.doubts(
                entry, self.shop.customs.trade().parts, knowledge.ways.pallet
            )
        read = kept.parsed.remarks
        return SheetOnFile(
            entry, belief, kept.own, kept.text, read, unread=kept.unread, doubts=doubts
        )

    @over_a_sound_index
    def catalogue(self) -> Catalogue:
        """Every file of the shelf with whose it is, its confirmed jobs, and all that is to mend."""
        from kb.review.catalogue import catalogue

        with self.shop.knowing() as knowledge:
            confirmed = knowledge.counts.told.elsewhere
            return knowledge.index.remembered.get(
                Kept.CATALOGUE,
                lambda: catalogue(knowledge.index, confirmed, self.shop.customs),
            )

    @over_a_sound_index
    def in_language(self, language: str) -> Mapping[str, str]:
        """The texts of sheets and house cautions that are translated into a language, by their English."""
        from kb.library.translations import TranslatedShelf

        translated = TranslatedShelf(self.shop.shelf, language)
        with self.shop.knowing() as knowledge:

            def read() -> Mapping[str, str]:
                found = dict(translated.pairs(knowledge.entry))
                headlines = {
                    headline(text): opening(said)
                    for text, said in found.items()
                    if text
                }
                return {
                    text: said
                    for text, said in (headlines | found).items()
                    if text and said
                }

            return knowledge.index.remembered.get(
                Kept.TRANSLATED, read, f"{language}\n{translated.stamp()}"
            )

    @over_a_sound_index
    def served(self) -> list[Entry]:
        """Every entry as it is served, by slug."""
        with self.shop.knowing() as knowledge:
            return knowledge.index.entries()

    @over_a_sound_index
    def cause_texts(self, causes: Sequence[str]) -> dict[str, str]:
        """What each cause (`entry/cause`) says in its entry; one whose entry is gone is told by its name."""
        with self.shop.knowing() as knowledge:
            return {name: knowledge.cause_text(name) for name in causes}

    @over_a_sound_index
    def tools(self) -> tuple[Tool, ...]:
        """The tools and parts that tests and fixes need or the shop lacks, most tests first."""
        from kb.library.tools import tools

        with self.shop.knowing() as knowledge:
            entries = knowledge.index.entries()
        return tools(entries, self.shop.settings.lacks, self.shop.customs.trade())

    def check(self, paths: Sequence[Path] = ()) -> list[Remark]:
        """Every problem in the given files, or in all that this shop sees: entries, house files, words, settings."""
        from kb.bench import own_files
        from kb.library import checks

        seen, kept = self.shop.shelf, self.shop.kept_settings
        if not paths:
            own = own_files.of_words(
                self.shop.folder / "words.toml", self.shop.word_files()[:-1]
            )
            return [
                *checks.of_shelf(seen),
                *own,
                *own_files.of_settings(kept.path, kept.now()),
            ]
        remarks: list[Remark] = []
        others = []
        for path in paths:
            if is_library(path) and path != seen.own:
                remarks += checks.of_shelf(shelf.Shelf(path, None))
            elif path.name not in OWN_FILES:
                others.append(path)
        remarks += checks.of_files(others, seen.customs)
        for path in paths:
            if path.name == "words.toml":
                remarks += own_files.of_words(path, self.shop.word_files()[:-1])
            elif path.name == "shop.toml":
                remarks += own_files.of_settings(
                    path, SettingsFile(path.parent, trade=self.shop.customs.trade).now()
                )
        return remarks

    def on_file(self, slug: str) -> shelf.Sheet | None:
        """The file of an entry as it stands now, even one that holds nothing to serve, or None."""
        return self.shop.shelf.sheet(slug)

    def stock_text(self, slug: str) -> str:
        """The text of an entry that ships with the program, empty if it is the shop's alone."""
        return self.shop.shelf.stock_text(slug)

    def save(self, slug: str, text: str, base: str) -> Path:
        """Save the shop's text of an entry; raises shelf.EntryChanged, or Refusal for what cannot be an entry."""
        return self.shop.shelf.save(slug, text, base)

    def put_away(self, slug: str, base: str) -> Path:
        """Move the shop's text of an entry aside and give where it is kept; a stock text counts again.

        Raises shelf.EntryChanged if another text than `base` stands there, NotThere if the shop has none of its own,
        shelf.NotSaved if the disk does not do it.
        """
        return self.shop.shelf.put_away(
            slug, base, self.shop.clock().date().isoformat()
        )

    def album(self) -> album.Album:
        """The pictures beside the shop's entries."""
        from kb.library import album

        return album.Album(self.shop.shelf)
