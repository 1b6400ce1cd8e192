"""Connections, the open files of each thread: the history and the index kept in step with it, whatever happens."""

from __future__ import annotations

import functools
import json
import sqlite3
import threading
import time
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from math import inf
from pathlib import Path
from typing import Concatenate, ParamSpec, Protocol, TypeVar

from kb.base.clock import Clock
from kb.history import History
from kb.history.trouble import HistoryBusy, HistoryTrouble
from kb.index import elsewhere, refresh
from kb.index.file import is_damage
from kb.index.index import Index
from kb.index.keeper import Keeper
from kb.language.words import Lexicon
from kb.library.shelf import Shelf

#: Seconds for which a history that was busy or broke while it was read is not asked again, and a full disk neither.
LEAVE, LEAVE_DISK = 2.0, 60.0

#: Seconds of work on the index that whoever asks does himself, and that a server does before it answers anybody.
AT_ONCE, WAITED_FOR = 0.5, 10.0

Given = ParamSpec("Given")
Found = TypeVar("Found")


class HasFiles(Protocol):
    """Whatever asks questions of open files."""

    files: OpenFiles


Asker = TypeVar("Asker", bound=HasFiles)


def over_a_sound_index(
    ask: Callable[Concatenate[Asker, Given], Found],
) -> Callable[Concatenate[Asker, Given], Found]:
    """The question, asked once more over a new index if it stumbles over one that is damaged."""

    @functools.wraps(ask)
    def asked(asker: Asker, /, *given: Given.args, **named: Given.kwargs) -> Found:
        try:
            return ask(asker, *given, **named)
        except (
            sqlite3.DatabaseError,
            UnicodeDecodeError,
            json.JSONDecodeError,
            zlib.error,
        ) as error:
            if not is_damage(error):
                raise
            asker.files.discard_index()
            return ask(asker, *given, **named)

    return asked


class OpenFiles:
    """The history and the index of a shop, opened for each thread when it first needs them."""

    def __init__(
        self,
        shop: Path,
        shelf: Shelf,
        word_files: Callable[[], tuple[Path, ...]],
        clock: Clock,
    ) -> None:
        self.shop = shop
        self.clock = clock
        self._shelf = shelf
        self._word_files = word_files
        self._held = threading.local()
        self._keeper: Keeper | None = None
        self._being_read = False
        self._tell: Callable[[refresh.Due], None] | None = None

    def tell_what_is_due(self, tell: Callable[[refresh.Due], None]) -> None:
        """From now on what is to be taken into the index is told before that is done, however little it is."""
        self._tell = tell

    def keep_in_background(self) -> Keeper:
        """From now on take in what takes long in a thread of its own; whoever asks meanwhile is answered without it.

        The sheets of a library of usual size are taken in at once where the index holds none, so that no page is
        ever answered from an empty one.
        """
        self._keeper = Keeper(self._caught_up)
        index = self.index()
        if not index.about("lexicon"):
            with suppress(refresh.TakesLong):
                self._in_step(None, WAITED_FOR)
        return self._keeper

    def being_read(self) -> bool:
        """Whether entries, jobs or machines are being taken in, so that answers do without them."""
        return self._being_read

    def _caught_up(self) -> None:
        """Bring the index in step, in a thread of its own; whoever asks tells of a history that cannot be used."""
        try:
            with suppress(HistoryTrouble):
                history = self.usable_history()
                self._in_step(history)
                if history is not None:
                    self._floor_in_step(history)
        finally:
            self._being_read = False
            self.close()

    def trouble(self) -> str:
        """Why this thread could not use the history when it last read, empty if it could."""
        return getattr(self._held, "trouble", "")

    def history(self) -> History:
        """This thread's history; made by the first call that needs one, opened again when it was put back."""
        held: History | None = getattr(self._held, "history", None)
        if held is not None and not held.stands():
            held.close()
            del self._held.history
        if not hasattr(self._held, "history"):
            self._held.history = History.open(
                self.shop / "history.db", clock=self.clock
            )
        return self._held.history  # type: ignore[no-any-return]

    def usable_history(self) -> History | None:
        """This thread's history, None while it cannot be used."""
        if time.monotonic() < getattr(self._held, "leave_until", 0.0):
            return None
        try:
            return self.history()
        except HistoryTrouble as trouble:
            self._held.trouble = trouble.sentence
            if isinstance(trouble, HistoryBusy):
                self.leave_alone(trouble)
            return None

    def leave_alone(self, trouble: HistoryTrouble) -> None:
        """Read without the history for a while, so that nobody waits for it again and again."""
        self._held.trouble = trouble.sentence
        self._held.leave_until = time.monotonic() + LEAVE

    @contextmanager
    def reading(self) -> Iterator[tuple[Index, Lexicon]]:
        """This thread's index, up to date, all reads seeing one state.

        Without a usable history the index holds the jobs as they were last taken in, if it held any.
        """
        try:
            lexicon = self._refreshed()
        except sqlite3.OperationalError as error:
            if is_damage(error):
                raise
            self._hold_in_memory()
            lexicon = self._refreshed()
        index = self.index()
        with index.reading():
            yield index, lexicon

    @contextmanager
    def floor(self) -> Iterator[tuple[Index, History | None]]:
        """This thread's index with the machines up to date, all reads seeing one state, and the history if usable."""
        history = self.usable_history()
        if history is not None:
            try:
                self._floor_in_step_or_later(history)
                self._held.trouble = ""
            except HistoryTrouble as trouble:
                self.leave_alone(trouble)
                history = None
        index = self.index()
        with index.reading():
            yield index, history

    def _floor_in_step_or_later(self, history: History) -> None:
        """The machines in step, or as they stand where that takes long and a thread of its own sees to it."""
        if self._keeper is None or self.index().path is None:
            self._floor_in_step(history)
            return
        try:
            self._floor_in_step(history, AT_ONCE)
        except refresh.TakesLong:
            if self._keeper.wake():
                self._being_read = True
            else:
                self._floor_in_step(history)

    def _floor_in_step(self, history: History, patience: float = inf) -> None:
        """Bring the machines up to date, in memory if the disk has no room for them."""
        try:
            refresh.refresh_floor(self.index(), history, patience)
        except sqlite3.OperationalError as error:
            if is_damage(error):
                raise
            self._hold_in_memory()
            refresh.refresh_floor(self.index(), history)

    def _hold_in_memory(self) -> None:
        """Go on with an index in memory: there is no room for it on the disk, or it is held for very long."""
        self._close_index()
        self._held.index, self._held.file_again = (
            Index(None),
            time.monotonic() + LEAVE_DISK,
        )

    def _refreshed(self) -> Lexicon:
        history = self.usable_history()
        if history is not None:
            try:
                lexicon = self._in_step_or_later(history)
                self._held.trouble = ""
                return lexicon
            except HistoryTrouble as trouble:
                self.leave_alone(trouble)
        return self._in_step_or_later(None)

    def _in_step_or_later(self, history: History | None) -> Lexicon:
        """The index in step, or as it stands where that takes long and a thread of its own sees to it."""
        if self._keeper is None or self.index().path is None:
            return self._in_step(history)
        try:
            return self._in_step(history, AT_ONCE)
        except refresh.TakesLong:
            if not self._keeper.wake():
                return self._in_step(history)
        self._being_read = True
        return refresh.as_it_stands(self.index(), self._word_files())

    def _in_step(self, history: History | None, patience: float = inf) -> Lexicon:
        lexicon = refresh.refresh(
            self.index(),
            self._shelf,
            history,
            self._word_files(),
            patience,
            tell=self._tell,
        )
        refresh.refresh_elsewhere(self.index(), self.shop / elsewhere.FILE)
        return lexicon

    def index(self) -> Index:
        """This thread's index; opened again if its file was removed, or from time to time if it is in memory."""
        held: Index | None = getattr(self._held, "index", None)
        if (
            held is not None
            and held.path is None
            and time.monotonic() > getattr(self._held, "file_again", 0.0)
        ):
            self._held.file_again = time.monotonic() + LEAVE_DISK
            fresh = Index(self.shop / "index.db")
            if fresh.path is not None:
                self._close_index()
                self._held.index = fresh
            else:
                fresh.close()
        elif held is None or not held.stands():
            self._close_index()
            self._held.index = Index(self.shop / "index.db")
            self._held.file_again = time.monotonic() + LEAVE_DISK
        return self._held.index  # type: ignore[no-any-return]

    def discard_index(self) -> None:
        """Remove the index, in which something is wrong; the next question makes it anew."""
        if hasattr(self._held, "index"):
            self._held.index.discard()
            del self._held.index

    def _close_index(self) -> None:
        if hasattr(self._held, "index"):
            self._held.index.close()
            del self._held.index

    def close(self) -> None:
        """Let this thread's files go."""
        self._close_index()
        if hasattr(self._held, "history"):
            self._held.history.close()
            del self._held.history
