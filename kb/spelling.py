"""What an unknown word was probably meant to be: a noisy channel over the library's own words."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

from rapidfuzz import fuzz, process
from rapidfuzz.distance import OSA

#: One full typing error makes a reading this many e-folds less likely (about 1 in 20 words is mistyped).
ERROR_COST = 3.0
#: Errors of the easy kinds, as parts of a full one: a key next door, a letter doubled or not, letters that sound alike.
EASY_ERROR = 0.6
#: A letter left out and two neighbours swapped are nearly as easy; chosen on listed misspellings and keyboard slips.
DROPPED_LETTER = SWAPPED_LETTERS = 0.7
#: A first letter is seldom wrong (3 % of listed misspellings): an extra cost, in errors.
FIRST_LETTER = 0.5
#: A word with no likely reading is left as it is; the longer the word, the more errors it may hold.
MOST_READINGS = 6
#: The nearest words by plain distance that are looked at more closely.
LOOKED_AT = 16

_VOWELS = str.maketrans("", "", "aeiou")
_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_ALIKE = ("ck", "cs", "sz", "iy", "ei", "ai", "ou", "fp", "dt", "gj", "kq", "ae", "vw", "bp", "uw", "eo")


@dataclass(frozen=True, slots=True)
class Reading:
    """A word that a typed one may stand for, and how likely; an empty word means "something unknown"."""

    word: str
    share: float


def readings(
    typed: str, vocabulary: Mapping[str, float], unfinished: bool = False, noise: Collection[str] = ()
) -> tuple[Reading, ...]:
    """The likely readings of a word that the library does not know, shares summing to one.

    P(word | typed) ∝ sqrt(count of word) · exp(-ERROR_COST · errors) (a noisy channel); the reading ""
    competes with as many errors as the word's length makes plausible. `unfinished` adds completions; a word
    without vowels may be one written short ("scrn"); two words may be run together, but not one of those that
    tell nothing (`noise`).

    >>> found = readings("batery", {"battery": 90.0, "better": 3.0})
    >>> found[0].word, found[0].share > 0.8
    ('battery', True)
    """
    allowed = allowed_errors(typed)
    weights: dict[str, float] = {"": math.exp(-ERROR_COST * (allowed + 0.25))}
    if allowed:
        near = process.extract(
            typed, list(vocabulary), scorer=OSA.distance, score_cutoff=math.ceil(allowed) + 1, limit=LOOKED_AT
        )
        for word, _, _ in near:
            errors = typing_errors(typed, word)
            if errors <= allowed + 0.25 and len(word) > 1:
                weights[word] = math.sqrt(vocabulary[word]) * math.exp(-ERROR_COST * errors)
    if unfinished and len(typed) >= 2:
        for word, count in vocabulary.items():
            if word.startswith(typed):
                weights[word] = max(weights.get(word, 0.0), math.sqrt(count) * math.exp(-ERROR_COST * EASY_ERROR))
    for word in _written_out(typed, vocabulary):
        weights[word] = max(weights.get(word, 0.0), math.sqrt(vocabulary[word]) * math.exp(-ERROR_COST * EASY_ERROR))
    for pair, count in _two_words(typed, vocabulary, noise):
        weights[pair] = math.sqrt(count) * math.exp(-ERROR_COST)
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

    The optimal string alignment (letters too many, left out, replaced, swapped; Damerau 1964), each one
    error but for the easier kinds: neighbouring keys, doubled letters and like sounds at EASY_ERROR, letters
    left out or swapped at DROPPED_LETTER. Not the same both ways: people drop letters more than they add.

    >>> typing_errors("teh", "the"), typing_errors("batery", "battery"), typing_errors("cat", "dog")
    (0.7, 0.6, 2.7)
    """
    typed_extra, word_extra = _extra_costs(typed, 1.0), _extra_costs(word, DROPPED_LETTER)
    before: list[float] = []
    last = [0.0, *accumulate(word_extra)]
    for i, (a, extra) in enumerate(zip(typed, typed_extra, strict=True)):
        row = [last[0] + extra]
        for j, b in enumerate(word):
            best = last[j] if a == b else last[j] + _SWAP.get((a, b), 1.0)
            best = min(best, last[j + 1] + extra, row[j] + word_extra[j])
            if i and j and a == word[j - 1] and b == typed[i - 1] and a != b:
                best = min(best, before[j - 1] + SWAPPED_LETTERS)
            row.append(best)
        before, last = last, row
    first = FIRST_LETTER if typed[:1] != word[:1] and typed[:2] != word[1::-1] else 0.0
    return last[-1] + first


def _extra_costs(word: str, cost: float) -> list[float]:
    """What each letter costs that the other word lacks: less where it doubles the one before."""
    return [EASY_ERROR if at and letter == word[at - 1] else cost for at, letter in enumerate(word)]


def _easy_swaps() -> dict[tuple[str, str], float]:
    """The pairs of letters that are easily taken for each other: by sound, or side by side on a keyboard."""
    pairs = [(pair[0], pair[1]) for pair in _ALIKE]
    for row, below in zip(_ROWS, (*_ROWS[1:], ""), strict=True):
        pairs += pairwise(row)
        pairs += [(a, b) for at, a in enumerate(row) for b in below[max(at - 1, 0) : at + 1]]
    return {pair: EASY_ERROR for a, b in pairs for pair in ((a, b), (b, a))}


_SWAP = _easy_swaps()


def _written_out(typed: str, vocabulary: Mapping[str, float]) -> list[str]:
    """The words that a shorthand of three consonants or more may stand for: the same ones without their vowels.

    >>> _written_out("bttry", {"battery": 90.0, "bitter": 2.0, "buttery": 1.0}), _written_out("bat", {"beat": 5.0})
    (['battery', 'buttery'], [])
    """
    bones = _bones(typed)
    if len(bones) < 3 or typed[1:] != typed[1:].translate(_VOWELS):
        return []
    return [word for word in vocabulary if word[:1] == typed[0] and len(word) > len(typed) and _bones(word) == bones]


def _bones(word: str) -> str:
    """The first letter of a word and the consonants after it, none doubled ("ck" is a double k).

    >>> _bones("keyboard"), _bones("scrn"), _bones("cracked"), _bones("battery")
    ('kybrd', 'scrn', 'crkd', 'btry')
    """
    kept = (word[:1] + word[1:].translate(_VOWELS)).replace("ck", "kk")
    return "".join(letter for at, letter in enumerate(kept) if letter != kept[at - 1 : at])


def _two_words(typed: str, vocabulary: Mapping[str, float], noise: Collection[str]) -> Sequence[tuple[str, float]]:
    """Ways to part a run-together word into two telling ones of three letters or more, with the count to expect.

    Two words that have nothing to do with each other follow upon one another count · count / total times.

    >>> _two_words("blackscreen", {"black": 400.0, "screen": 600.0, "other": 9000.0}, ())
    [('black screen', 24.0)]
    """
    found = []
    for cut in range(3, len(typed) - 2):
        left, right = typed[:cut], typed[cut:]
        if left in vocabulary and right in vocabulary and left not in noise and right not in noise:
            found.append((f"{left} {right}", vocabulary[left] * vocabulary[right] / sum(vocabulary.values())))
    return found


def nearest(name: str, names: Collection[str]) -> str:
    """The name most like a mistyped one, whatever the case, or empty.

    >>> nearest("Multimetre", ["multimeter", "scale"]), nearest("zzz", ["multimeter", "scale"])
    ('multimeter', '')
    """
    found = process.extractOne(name, names, scorer=fuzz.ratio, processor=str.casefold, score_cutoff=70)
    return str(found[0]) if found else ""


def is_plain_word(typed: str) -> bool:
    """Whether a token is made of letters only, so that it may be misspelt at all."""
    return re.fullmatch(r"[a-z']+", typed) is not None
