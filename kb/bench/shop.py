"""A shop that desks share: its folder, its files for each thread, its clock and what it sets for itself."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC
from pathlib import Path
from typing import TypeVar

from kb.base.clock import Clock, utc_now
from kb.bench.settings import PALLET, Settings, SettingsFile, library_of
from kb.diagnosis.counts import ALIKE, Ageing
from kb.diagnosis.knowledge import ShopKnowledge, Ways
from kb.history import History
from kb.history.same import ALL_APART, SameModels
from kb.history.trouble import HistoryTrouble
from kb.index.connections import OpenFiles
from kb.language import words
from kb.library import shelf
from kb.library.customs import Customs

Found = TypeVar("Found")


class Shop:
    """The one thing under all desks; safe to be used from several threads, each with its own connections."""

    def __init__(
        self, folder: Path, stock: Path | None = None, clock: Clock = utc_now
    ) -> None:
        self.folder = folder
        self.clock = clock
        self.shelf = shelf.Shelf(
            stock or library_of(folder) or shelf.stock_folder(), folder / "entries"
        )
        self.files = OpenFiles(folder, self.shelf, self.word_files, clock)
        self.kept_settings = SettingsFile(folder, trade=self.customs.trade)

    @property
    def customs(self) -> Customs:
        """The house files: those of the library, and the shop's own before them."""
        return self.shelf.customs

    def word_files(self) -> tuple[Path, ...]:
        """The files of words, later ones added to earlier ones: the program's, the library's and the shop's."""
        return (
            *words.common_words(),
            *self.customs.words(),
            self.folder / "words.toml",
        )

    @property
    def settings(self) -> Settings:
        """What the shop sets for itself, as its file says now."""
        return self.kept_settings.now()

    @contextmanager
    def beforehand(self) -> Iterator[None]:
        """What is worked out before anybody asks, in a thread of its own: its files are let go at the end.

        Whoever asks is told what is wrong.
        """
        try:
            yield
        except (sqlite3.Error, HistoryTrouble, OSError):
            pass
        finally:
            self.files.close()

    @property
    def ageing(self) -> Ageing:
        """How old jobs weigh today."""
        days = self.settings.half_life_days
        return Ageing(days, self.clock().astimezone(UTC).date()) if days else ALIKE

    @property
    def _ways(self) -> Ways:
        settings = self.settings
        return Ways(
            self.ageing,
            settings.machines_from == PALLET,
            self.customs,
            settings.elsewhere,
        )

    @contextmanager
    def knowing(self, model: str = "") -> Iterator[ShopKnowledge]:
        """What the shop knows, all of it as of one moment."""
        with self.files.reading() as (index, lexicon):
            yield ShopKnowledge(index, lexicon, model, self._ways)

    def history(self) -> History:
        """The history, opened for this thread; made by the first call that needs one."""
        return self.files.history()

    def if_usable(self, ask: Callable[[History], Found], otherwise: Found) -> Found:
        """What the history answers, or the other thing while it cannot be used."""
        try:
            history = self.files.usable_history()
            return ask(history) if history else otherwise
        except HistoryTrouble as trouble:
            self.files.leave_alone(trouble)
            return otherwise

    def same_models(self) -> SameModels:
        """Which names mean one model; none do while the history cannot be used."""
        return self.if_usable(lambda history: history.same_models(), ALL_APART)

    def clock_doubt(self) -> str:
        """In words why the clock looks wrong; empty if it does not, or while the history cannot be used."""
        return self.if_usable(lambda history: history.clock_warning(), "")


class Desk:
    """One desk of the front door: a few questions of one kind, asked of the shop; nothing is decided at it."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop
        self.files = shop.files
