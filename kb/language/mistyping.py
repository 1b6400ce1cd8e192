"""Mistyping: how many slips of the hand lead from a word to what was typed, and what they cost."""

from __future__ import annotations

from functools import lru_cache
from itertools import accumulate, pairwise, product

#: One full typing error makes a reading this many e-folds less likely (about 1 in 20 words is mistyped).
ERROR_COST = 3.0
#: Errors of the easy kinds, as parts of a full one: a key next door, a letter doubled or not, letters that sound alike.
EASY_ERROR = 0.6
#: A letter left out and two neighbours swapped are nearly as easy; chosen on listed misspellings and keyboard slips.
DROPPED_LETTER = SWAPPED_LETTERS = 0.7
#: A first letter is seldom wrong (3 % of listed misspellings): an extra cost, in errors.
FIRST_LETTER = 0.5
#: A word with no likely reading is left as it is; the longer the word, the more errors it may hold.
LETTERS_PER_ERROR, MOST_ERRORS, SPARE_ERROR = 4.0, 2.5, 0.25

_ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm")
_ALIKE = (
    "ck",
    "cs",
    "sz",
    "iy",
    "ei",
    "ai",
    "ou",
    "fp",
    "dt",
    "gj",
    "kq",
    "ae",
    "vw",
    "bp",
    "uw",
    "eo",
)


def allowed_errors(typed: str) -> float:
    """How many errors a word of this length may hold before it is called unknown.

    >>> [allowed_errors("x" * n) for n in (2, 3, 4, 6, 9)]
    [0.0, 0.75, 1.0, 1.5, 2.25]
    """
    if len(typed) < 3 or any(c.isdigit() for c in typed):
        return 0.0
    return min(len(typed) / LETTERS_PER_ERROR, MOST_ERRORS)


def plausible_errors(typed: str) -> float:
    """With more errors than this a word is rather one that nobody here knows: a longer one may hold more.

    >>> [plausible_errors("x" * n) for n in (2, 4, 16)]
    [0.25, 1.25, 4.25]
    """
    return (
        len(typed) / LETTERS_PER_ERROR if allowed_errors(typed) else 0.0
    ) + SPARE_ERROR


def typing_errors(typed: str, word: str) -> float:
    """The number of typing errors that lead from `word` to `typed`, the easy kinds counted less.

    The optimal string alignment (letters too many, left out, replaced, swapped; Damerau 1964), each one
    error but for the easier kinds: neighbouring keys, doubled letters and like sounds at EASY_ERROR, letters
    left out or swapped at DROPPED_LETTER. Not the same both ways: people drop letters more than they add.

    >>> typing_errors("teh", "the"), typing_errors("batery", "battery"), typing_errors("cat", "dog")
    (0.7, 0.6, 2.7)
    """
    typed_extra, word_extra = (
        _extra_costs(typed, 1.0),
        _extra_costs(word, DROPPED_LETTER),
    )
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


@lru_cache(maxsize=20_000)
def _extra_costs(word: str, cost: float) -> tuple[float, ...]:
    """What each letter costs that the other word lacks: less where it doubles the one before."""
    return tuple(
        EASY_ERROR if at and letter == word[at - 1] else cost
        for at, letter in enumerate(word)
    )


def _easy_swaps() -> dict[tuple[str, str], float]:
    """The pairs of letters that are easily taken for each other: by sound, or side by side on a keyboard."""
    pairs = [(pair[0], pair[1]) for pair in _ALIKE]
    for row, below in zip(_ROWS, (*_ROWS[1:], ""), strict=True):
        pairs += pairwise(row)
        for at, letter in enumerate(row):
            pairs += product(letter, below[max(at - 1, 0) : at + 1])
    turned_round = [(b, a) for a, b in pairs]
    return dict.fromkeys([*pairs, *turned_round], EASY_ERROR)


_SWAP = _easy_swaps()
