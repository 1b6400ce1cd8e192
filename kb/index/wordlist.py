"""The word list of the index: every word as written or said, what is known of a stem, and what others may stand for."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Mapping

from kb.index import postings
from kb.index.remembered import Kept, Remembered
from kb.language import spelling
from kb.language.words import stem

#: Of so many stems it is remembered whether they are known: more than the words of a library of hundreds of entries.
MOST_STEMS = 20_000


class WordList:
    """The words of an open index, those that were only said in jobs among them unless it is asked by the written ones.

    Read by the written words, a job's complaint is read alike whenever it is taken in and whatever jobs came or went.
    """

    def __init__(
        self,
        connection: sqlite3.Connection,
        remembered: Remembered,
        written_only: bool = False,
    ) -> None:
        self._connection = connection
        self._remembered = remembered
        self._count = "written" if written_only else "written + said"
        self._words = Kept.WRITTEN if written_only else Kept.WORDS
        self._stems = Kept.WRITTEN_STEMS if written_only else Kept.STEMS
        self._guesses = Kept.WRITTEN_GUESSES if written_only else Kept.GUESSES

    def written(self) -> WordList:
        """The words of the entries and the lexicon alone, by which jobs' complaints are read."""
        return WordList(self._connection, self._remembered, written_only=True)

    def put_known(self, words: Mapping[str, int]) -> None:
        """Make words known that stand in no entry, with their counts; to be called when the index is empty."""
        postings.change_words(self._connection, stem, words, {})

    def add_said(self, words: Mapping[str, int]) -> None:
        """Add to how often words were said in jobs; to be called while changing."""
        postings.change_words(self._connection, stem, {}, words)

    def knows(self, stem: str) -> bool:
        """Whether some word of the list has this stem; remembered, since the same few words make most complaints."""
        asked: dict[str, bool] = self._remembered.get(self._stems, dict)
        found = asked.get(stem)
        if found is None:
            rows = f"SELECT 1 FROM word WHERE stem = ? AND {self._count} > 0 LIMIT 1"
            found = self._connection.execute(rows, (stem,)).fetchone() is not None
            if len(asked) < MOST_STEMS:
                asked[stem] = found
        return found

    def guesses(
        self, typed: str, unfinished: bool, noise: Collection[str]
    ) -> tuple[spelling.Guess, ...]:
        """What a word that is not in the list may stand for; remembered, since every key typed asks again."""

        def load() -> tuple[spelling.Guess, ...]:
            return spelling.guesses(typed, self.counts(), unfinished, noise)

        return self._remembered.get(self._guesses, load, typed, unfinished)

    def counts(self) -> spelling.CountedWords:
        """Every word with its count."""

        def load() -> spelling.CountedWords:
            rows = f"SELECT word, {self._count} FROM word WHERE {self._count} > 0 ORDER BY word"
            return spelling.CountedWords(self._connection.execute(rows))

        return self._remembered.get(self._words, load)
