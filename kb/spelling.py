"""What an unknown word was probably meant to be: a noisy channel over the library's own words; the only user of rapidfuzz."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rapidfuzz import process
from rapidfuzz.distance import OSA

#: One full typing error makes a reading this many e-folds less likely (about 1 in 20 words is mistyped).
ERROR_COST = 3.0
#: Errors of the easy kinds, as parts of a full one: a key next door, a letter doubled or not, two letters that sound alike.
EASY_ERROR = 0.6
#: A first letter is seldom wrong (3 % of listed misspellings): an extra cost, in errors.
FIRST_LETTER = 0.5
#: A word with no likely reading is left as it is; the longer the word, the more errors it may hold.
MOST_READINGS = 6

_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_ALIKE = frozenset(("ck", "cs", "sz", "iy", "ei", "ai", "ou", "fp", "dt", "gj", "kq", "ae", "vw", "bp", "uw", "eo"))


@dataclass(frozen=True, slots=True)
class Reading:
    """A word that a typed one may stand for, and how likely; an empty word means "something unknown"."""

    word: str
    share: float


def readings(typed: str, vocabulary: Mapping[str, float], unfinished: bool = False) -> tuple[Reading, ...]:
    """The likely readings of a word that the library does not know, shares summing to one.

    P(word | typed) ∝ sqrt(count of word) · exp(-ERROR_COST · errors) (a noisy channel); the reading ""
    competes with as many errors as the word's length makes plausible. `unfinished` adds completions.

    >>> found = readings("batery", {"battery": 90.0, "better": 3.0})
    >>> found[0].word, found[0].share > 0.8
    ('battery', True)
    """
    allowed = allowed_errors(typed)
    weights: dict[str, float] = {"": math.exp(-ERROR_COST * (allowed + 0.25))}
    if allowed:
        near = process.extract(
            typed, list(vocabulary), scorer=OSA.distance, score_cutoff=math.ceil(allowed) + 1, limit=40
        )
        for word, _, _ in near:
            errors = typing_errors(typed, word)
            if errors <= allowed + 0.25 and len(word) > 1:
                weights[word] = math.sqrt(vocabulary[word]) * math.exp(-ERROR_COST * errors)
    if unfinished and len(typed) >= 2:
        for word, count in vocabulary.items():
            if word.startswith(typed):
                weights[word] = max(weights.get(word, 0.0), math.sqrt(count) * math.exp(-ERROR_COST * EASY_ERROR))
    for pair, count in _two_words(typed, vocabulary):
        weights[pair] = math.sqrt(count) * math.exp(-ERROR_COST * EASY_ERROR)
    best = sorted(weights.items(), key=lambda item: (-item[1], item[0]))[:MOST_READINGS]
    total = sum(weight for _, weight in best)
    return tuple(Reading(word, weight / total) for word, weight in best)


def allowed_errors(typed: str) -> float:
    """How many errors a word of this length may hold before it is called unknown.

    >>> [allowed_errors("x" * n) for n in (2, 3, 4, 6, 9)]
    [0.0, 0.75, 1.0, 1.5, 2.25]
    """
    if len(typed) < 3 or any(c.isdigit() for c in typed):
        return 0.0
    return min(len(typed) / 4.0, 2.5)


def typing_errors(typed: str, word: str) -> float:
    """The number of typing errors that lead from `word` to `typed`, the easy kinds counted less.

    The optimal string alignment (insertions, deletions, substitutions, neighbours swapped, each one
    error; Damerau 1964), with neighbouring keys, doubled letters and like sounds at EASY_ERROR.

    >>> typing_errors("teh", "the"), typing_errors("batery", "battery"), typing_errors("cat", "dog")
    (1.0, 0.6, 2.7)
    """
    rows, columns = len(typed), len(word)
    before: list[float] = []
    last = [_edge(word[:j]) for j in range(columns + 1)]
    for i in range(1, rows + 1):
        row = [_edge(typed[:i])]
        for j in range(1, columns + 1):
            a, b = typed[i - 1], word[j - 1]
            best = min(
                last[j - 1] + _swap_cost(a, b),
                last[j] + _extra_cost(typed, i - 1),
                row[j - 1] + _extra_cost(word, j - 1),
            )
            if i > 1 and j > 1 and a == word[j - 2] and typed[i - 2] == b:
                best = min(best, before[j - 2] + 1.0)
            row.append(best)
        before, last = last, row
    first = FIRST_LETTER if typed[:1] != word[:1] and typed[:2] != word[1::-1] else 0.0
    return last[-1] + first


def _edge(letters: str) -> float:
    return float(sum(_extra_cost(letters, i) for i in range(len(letters))))


def _swap_cost(a: str, b: str) -> float:
    if a == b:
        return 0.0
    pair = "".join(sorted((a, b)))
    return EASY_ERROR if pair in _ALIKE or _are_neighbours(a, b) else 1.0


def _extra_cost(word: str, at: int) -> float:
    return EASY_ERROR if at and word[at] == word[at - 1] else 1.0


def _are_neighbours(a: str, b: str) -> bool:
    """Whether two letters lie side by side, or one above the other, on a keyboard."""
    for r, row in enumerate(_ROWS):
        if a in row:
            column = row.index(a)
            beside = [row[c] for c in (column - 1, column + 1) if 0 <= c < len(row)]
            below = list(_ROWS[r + 1][max(column - 1, 0) : column + 1]) if r + 1 < len(_ROWS) else []
            above = list(_ROWS[r - 1][column : column + 2]) if r else []
            return b in beside or b in below or b in above
    return False


def _two_words(typed: str, vocabulary: Mapping[str, float]) -> Sequence[tuple[str, float]]:
    """Ways to part a run-together word into two known ones of three letters or more."""
    found = []
    for cut in range(3, len(typed) - 2):
        left, right = typed[:cut], typed[cut:]
        if left in vocabulary and right in vocabulary:
            found.append((f"{left} {right}", min(vocabulary[left], vocabulary[right])))
    return found


def is_plain_word(typed: str) -> bool:
    """Whether a token is made of letters only, so that it may be misspelt at all."""
    return re.fullmatch(r"[a-z']+", typed) is not None
