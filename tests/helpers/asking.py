"""Questions with known answers, asked of the search: the measuring sets, and wordings left out."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from helpers.measures import mean, reciprocal_rank, success_at
from helpers.places import DATA
from kb.bench.front import Bench
from kb.diagnosis import causes, fit
from kb.diagnosis.belief import UNLISTED_SHARE
from kb.diagnosis.causes import Counts
from kb.index.index import Index
from kb.index.postings import Masses, Posting
from kb.language import spelling, terms
from kb.language.words import Lexicon, stem
from kb.model import Entry


@dataclass(frozen=True, slots=True)
class Question:
    """A complaint, the entries that are right, and the kind of complaint it is."""

    words: str
    entries: frozenset[str]
    kind: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A question with the entries it was answered with, likeliest first, and all scores of the words.

    Of the first entry its fit (the words alone) and the belief in the causes it lists.
    """

    question: Question
    ranking: tuple[str, ...]
    fit: float = 0.0
    belief: float = 0.0
    scores: Mapping[str, float] = field(default_factory=dict)

    @property
    def relevant(self) -> list[bool]:
        """Which of the ranking is right."""
        return [entry in self.question.entries for entry in self.ranking]

    @property
    def first(self) -> bool:
        """Whether the first answer is right."""
        return self.relevant[:1] == [True]


@dataclass(frozen=True, slots=True)
class Marks:
    """Shares in percent of the questions with a right entry first and among three, and the mean reciprocal rank."""

    number: int
    first: float
    three: float
    mrr: float


def questions(name: str) -> tuple[Question, ...]:
    """The measuring set of that name (`dev`, `own`, `fresh`, `blind` or `contrasts`)."""
    lines = (DATA / f"queries-{name}.tsv").read_text("utf-8").splitlines()[1:]
    rows = [line.split("\t") for line in lines]
    return tuple(
        Question(words, frozenset(slugs.split(",")), kind)
        for words, slugs, kind in rows
    )


def ask(bench: Bench, asked: Iterable[Question], limit: int = 3) -> list[Asked]:
    """Every question put to the bench."""
    return [asked_of(bench, question, "", limit) for question in asked]


def asked_of(bench: Bench, question: Question, model: str, limit: int = 3) -> Asked:
    """One question put to the bench for a machine of that model."""
    entries = bench.asking.rank(question.words, model=model, limit=limit).entries
    believed, fit = entries[0][1:] if entries else (0.0, 0.0)
    return Asked(question, tuple(slug for slug, _, _ in entries), fit, believed)


def marks(asked: Sequence[Asked]) -> Marks:
    """How well the questions were answered."""
    return Marks(
        len(asked),
        100.0 * mean([one.first for one in asked]),
        100.0 * mean([success_at(3, one.relevant) for one in asked]),
        mean([reciprocal_rank(one.relevant, at=10) for one in asked]),
    )


def by_kind(asked: Sequence[Asked]) -> dict[str, list[Asked]]:
    """The answers by the kind of their question, kinds by name."""
    kinds = sorted({one.question.kind for one in asked})
    return {kind: [one for one in asked if one.question.kind == kind] for kind in kinds}


class Without:
    """The indexed library as it would be, had one entry never had one of its wordings."""

    def __init__(
        self,
        index: Index,
        number: int,
        left_out: terms.Content,
        stems: Mapping[str, int],
    ) -> None:
        self._index, self._number, self._left_out, self._stems = (
            index,
            number,
            left_out,
            stems,
        )

    def postings(self, wanted: Iterable[str]) -> Mapping[str, Posting]:
        """The postings without the counts of the wording."""
        found = self._index.postings(wanted)
        return {
            term: kept
            for term, posting in found.items()
            if (kept := self._without(term, posting)).entries
        }

    def _without(self, term: str, posting: Posting) -> Posting:
        taken = self._left_out.terms.get(term, 0)
        if not taken:
            return posting
        at = posting.entries.index(self._number)
        entries, counts = posting.entries[:], posting.counts[:]
        counts[at] -= taken
        if not counts[at]:
            del entries[at], counts[at]
        return Posting(posting.total - taken, entries, counts)

    def masses(self, view: str) -> Masses:
        """The masses without the wording's."""
        masses = dict(self._index.masses(view).of)
        masses[self._number] -= sum(
            count for term, count in self._left_out.terms.items() if term[0] == view
        )
        return Masses(masses)

    def knows(self, stemmed: str) -> bool:
        """Whether some other text holds a word of this stem."""
        own = sum(
            count
            for word, count in self._left_out.words.items()
            if stem(word) == stemmed
        )
        return self._stems.get(stemmed, 0) > own

    def guesses(
        self, typed: str, unfinished: bool, noise: Collection[str]
    ) -> tuple[spelling.Guess, ...]:
        return spelling.guesses(typed, self.words(), unfinished, noise)

    def words(self) -> Mapping[str, float]:
        """The words of all other texts."""
        return self._words

    @cached_property
    def _words(self) -> Mapping[str, float]:
        known = Counter(self._index.words.counts())
        known.subtract(self._left_out.words)
        return spelling.CountedWords(
            {word: count for word, count in known.items() if count > 0}
        )


def leaving_one_wording_out(
    index: Index, lexicon: Lexicon, entries: Sequence[Entry], number: int, seed: int
) -> list[Asked]:
    """Wordings drawn from all entries, each asked of the library without it."""
    wordings = sorted(
        (entry.slug, wording) for entry in entries for wording in entry.wordings
    )
    drawn = random.Random(seed).sample(wordings, number)
    numbers = {slug: one for one, slug in index.slugs().items()}
    stems: Counter[str] = Counter()
    for word, count in index.words.counts().items():
        stems[stem(word)] += int(count)
    found = []
    for slug, wording in drawn:
        left_out = terms.count([(wording, terms.WORDING)], lexicon)
        library = Without(index, numbers[slug], left_out, stems)
        found.append(
            from_words(
                Question(wording, frozenset([slug]), "left out"),
                index,
                lexicon,
                library,
            )
        )
    return found


def from_words(
    question: Question, index: Index, lexicon: Lexicon, library: fit.Library
) -> Asked:
    """The question answered by its words alone, with the belief in listed causes, as it is shown."""
    slugs = index.slugs()
    scores = {
        slugs[number]: score
        for number, score in fit.fit(question.words, lexicon, library).scores.items()
    }
    shares = causes.of_entries(scores, Counts())
    shares.pop("")
    ranking = tuple(sorted(shares, key=lambda slug: (-shares[slug], slug)))
    first = shares[ranking[0]]
    return Asked(question, ranking[:10], first, first * (1.0 - UNLISTED_SHARE), scores)
