"""How well typed words fit each entry: log P(words | entry) against P(words)."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from kb.postings import Posting
from kb.reading import Alternative, Correction, Vocabulary, read
from kb.terms import VIEWS
from kb.words import Lexicon

#: How much the evidence of each view counts: words as they stand and signed things alike, pairs half.
VIEW_WEIGHT: Mapping[str, float] = {"w": 1.0, "s": 1.0, "b": 0.5}
#: Dirichlet smoothing: the whole library's use of a word counts like this share of a usual entry's own text.
SMOOTHING = 0.5
#: A rare word may belong to the story, not to the fault: none is taken to be rarer than this share of all words.
#: Both constants were chosen by leaving one wording out over the library.
RAREST = 1 / 25_000


class Library(Vocabulary, Protocol):
    """What the search asks of the indexed library; entries go by number."""

    def postings(self, terms: Iterable[str]) -> Mapping[str, Posting]:
        """The postings of those terms that the library holds."""

    def masses(self, view: str) -> Mapping[int, int]:
        """For every entry its summed counts in one view."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How words fit: for every entry number log P(words | entry) / P(words), and how the words were read, and how many said anything."""

    scores: Mapping[int, float]
    corrections: tuple[Correction, ...]
    known_words: int


def fit(text: str, lexicon: Lexicon, library: Library, unfinished: bool = False) -> Fit:
    """How the typed text fits every entry of the library.

    Each view is a unigram model smoothed with the whole library's (Dirichlet smoothing: Zhai & Lafferty
    2004, ACM TOIS 22(2), from memory): log Π (c(t,e) + μ b(t)) / ((N_e + μ) b(t)), b(t) the share of t in
    the library. An unknown word is the mixture of its readings. 0 means: fits no better than any text.
    """
    reading = read(text, lexicon, library, unfinished)
    postings = library.postings(term for ways in reading.words for way in ways for term in way.terms)
    scores: dict[int, float] = defaultdict(float)
    for view in VIEWS:
        masses = library.masses(view)
        total = sum(masses.values()) or 1
        mu = SMOOTHING * total / max(len(masses), 1)
        shrink = {entry: mu / (mass + mu) for entry, mass in masses.items()}
        gained: dict[int, float] = defaultdict(float)
        floors: dict[float, int] = defaultdict(int)
        for ways in reading.words:
            known = _add_word(gained, ways, view, postings, shrink, total, mu)
            floors[known] += 1 if known else 0
        for entry, factor in shrink.items():
            floor = sum(times * math.log(1.0 - known + factor * known) for known, times in floors.items())
            scores[entry] += VIEW_WEIGHT[view] * (floor + gained.get(entry, 0.0))
    known_words = sum(any(term in postings for way in ways for term in way.terms) for ways in reading.words)
    return Fit(scores, reading.corrections, known_words)


def _add_word(
    gained: dict[int, float],
    ways: tuple[Alternative, ...],
    view: str,
    postings: Mapping[str, Posting],
    shrink: Mapping[int, float],
    total: int,
    mu: float,
) -> float:
    """Add what one word tells of the entries that hold it; gives the share of its readings that are known."""
    gains: dict[int, float] = defaultdict(float)
    known = 0.0
    for way in ways:
        held = [postings[term] for term in way.terms if term[0] == view and term in postings]
        known += way.share if held else 0.0
        for posting in held:
            each = way.share / len(held) / (mu * (posting.total / total + RAREST))
            for entry, count in zip(posting.entries, posting.counts, strict=True):
                gains[entry] += each * count
    known = min(round(known, 6), 1.0)
    for entry, gain in gains.items():
        floor = 1.0 - known + shrink[entry] * known
        gained[entry] += math.log1p(shrink[entry] * gain / floor)
    return known
