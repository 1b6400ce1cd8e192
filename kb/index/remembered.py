"""What was worked out from the index and is remembered until it changes: one class, each thing under its name."""

from __future__ import annotations

import threading
from collections.abc import Callable
from enum import Enum
from typing import TypeVar

Value = TypeVar("Value")

#: So many things are remembered, more than a library of some hundred entries has; of larger ones the last half of it.
MOST_REMEMBERED = 2_000
#: So many states of the index are kept at a time.
STATES_KEPT = 3

_UNKNOWN = object()


class Kept(Enum):
    """What is remembered; the value says whether it hangs on entries and words alone, and so outlasts new jobs."""

    SLUGS = ("slugs", True)
    ENTRY = ("entry", True)
    DANGERS = ("dangers", True)
    NAMES = ("names of sheets", True)
    SAID = ("what a text says", True)
    HEARD = ("what an entry's own texts say", True)
    STATED = ("what an entry states that speaks against it", True)
    MODELS = ("models", False)
    SAME = ("which names mean the same model", False)
    CONFIRMED = ("confirmed jobs", False)
    SHARES = ("shares of causes", False)
    POOLING = ("how much models have in common", False)
    ELSEWHERE = ("what other shops had", True)
    TESTS = ("how tests did", False)
    CATALOGUE = ("catalogue", False)
    TRANSLATED = ("sheets in other languages", True)
    OWN_MASSES = ("masses of own texts", True)
    NUMBERS = ("numbers of entries", True)
    MASSES = ("masses", False)
    POSTINGS = ("postings", False)
    SCALES = ("what complaints count", False)
    WORDS = ("words", False)
    STEMS = ("whether stems are known", False)
    GUESSES = ("guesses", False)
    WRITTEN = ("written words", False)
    WRITTEN_STEMS = ("whether stems are among the written words", False)
    WRITTEN_GUESSES = ("guesses by the written words", False)

    @property
    def lasts(self) -> bool:
        """Whether new jobs leave it as it is."""
        return self.value[1]


class _States:
    """What the threads of this process remember, by the state of the index it was worked out from."""

    def __init__(self) -> None:
        self._held: dict[str, dict[object, object]] = {}
        self._lock = threading.Lock()

    def of(self, state: str) -> dict[object, object]:
        """What is remembered of that state; of the others the last few are kept."""
        with self._lock:
            held = self._held.setdefault(state, {})
            for old in list(self._held)[:-STATES_KEPT]:
                if old != state:
                    self._held.pop(old, None)
            return held


_OF_ENTRIES, _OF_JOBS = _States(), _States()


class Remembered:
    """What one open index remembers, shared with the other threads that have the same state of it open."""

    def __init__(self) -> None:
        self._sheets = ""
        self._counted = ""
        self._lasting: dict[object, object] = {}
        self._passing: dict[object, object] = {}

    def turn_to(self, sheets: str, counted: str) -> None:
        """Remember what belongs to a state: a fingerprint of the entries, empty while they change, and of the jobs."""
        if (sheets, counted) != (self._sheets, self._counted):
            self._counted = counted
            self._passing = _OF_JOBS.of(f"{sheets} {counted}") if sheets else {}
        if sheets != self._sheets:
            self._sheets = sheets
            self._lasting = _OF_ENTRIES.of(sheets) if sheets else {}

    def forget_jobs(self) -> None:
        """Work out anew what hangs on jobs."""
        self._counted, self._passing = "", {}

    def forget_entries(self) -> None:
        """Work out anew what hangs on entries."""
        self._sheets, self._lasting = "", {}

    def get(self, name: Kept, load: Callable[[], Value], *key: object) -> Value:
        """What `load` gives under that name and key, kept until what it hangs on changes."""
        held = self._lasting if name.lasts else self._passing
        place = (name, *key)
        found = held.get(place, _UNKNOWN)
        if found is _UNKNOWN:
            found = held[place] = load()
            if len(held) > MOST_REMEMBERED:
                for old in list(held)[: MOST_REMEMBERED // 2]:
                    held.pop(old, None)
        return found  # type: ignore[return-value]
