"""Spacing that went wrong: words run together, words parted, numbers run into words."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping
from typing import Protocol

from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.language.mistyping import ERROR_COST, allowed_errors, typing_errors

#: What each space after the first one left out costs, in errors; and the longest run of letters that is parted.
FURTHER_SPACE, LONGEST_RUN = 0.25, 40
#: Letters that the known one of two run-together words must have, and the mistyped one.
SHORTEST_KNOWN, SHORTEST_MISTYPED = 3, 4
#: The nearest words by plain distance that the mistyped one may be.
NEAREST = 4
#: Letters of a word that was parted; two or three letters meet by chance.
SHORTEST_WHOLE = 5

#: A number run together with a word of three letters or more, either first.
_NUMBER_AND_WORD = re.compile(
    r"(?<![\w./'-])(?:(?P<number>\d+)(?P<after>[a-z]{3,})|(?P<word>[a-z]{3,})(?P<figures>\d[\d.]*))(?![\w/'-])"
)


def parted(
    typed: str, vocabulary: Mapping[str, float], noise: Collection[str], total: float
) -> tuple[str, float]:
    """The likeliest way to part a run-together word, with its weight; ("", 0) if there is none.

    Words that have nothing to do with each other follow upon one another as often as their shares in the
    library multiply to. The first space left out is an error, each further one a quarter of one: whoever leaves
    out one leaves out others. At least one of the words must tell something; the others may not (`noise`). `total` are
    all counts of the library together.

    >>> count = {"screen": 600.0, "is": 400.0, "black": 400.0, "see": 100.0, "other": 8500.0}
    >>> parted("screenisblack", count, {"is"}, 10_000)[0], parted("isis", count, {"is"}, 10_000)
    ('screen is black', ('', 0.0))
    """
    if len(typed) > LONGEST_RUN:
        return "", 0.0
    further = FURTHER_SPACE * ERROR_COST
    best: dict[int, tuple[float, tuple[str, ...]]] = {
        0: (0.5 * math.log(total or 1.0) + further - ERROR_COST, ())
    }
    for end in range(2, len(typed) + 1):
        ways = []
        for start, (before, words) in best.items():
            part = typed[start:end]
            count = vocabulary.get(part, 0.0) if len(part) > 1 else 0.0
            if count > 0:
                space = further if words else 0.0
                ways.append(
                    (before + 0.5 * math.log(count / total) - space, (*words, part))
                )
        if ways:
            best[end] = max(ways)
    weight, words = best.get(len(typed), (0.0, ()))
    telling = [word for word in words if len(word) >= 3 and word not in noise]
    if len(words) < 2 or not telling:
        return "", 0.0
    return " ".join(words), math.exp(weight)


def parted_with_a_slip(
    typed: str, vocabulary: Mapping[str, float], noise: Collection[str], total: float
) -> dict[str, float]:
    """Ways to part a run-together word into a known one and one with a slip in it, with their weights.

    >>> count = {"wont": 50.0, "charge": 900.0, "change": 90.0, "other": 9000.0}
    >>> found = parted_with_a_slip("wontchrage", count, set(), 10_040)
    >>> max(found, key=found.get)
    'wont charge'
    """
    found: dict[str, float] = {}
    for cut in range(SHORTEST_KNOWN, len(typed) - SHORTEST_KNOWN + 1):
        left, right = typed[:cut], typed[cut:]
        for known, rest, pattern in (
            (left, right, "{0} {1}"),
            (right, left, "{1} {0}"),
        ):
            if known not in vocabulary or len(rest) < SHORTEST_MISTYPED:
                continue
            allowed = allowed_errors(rest)
            near = process.extract(
                rest,
                vocabulary.keys(),
                scorer=OSA.distance,
                score_cutoff=int(allowed),
                limit=NEAREST,
            )
            for word, _, _ in near:
                errors = typing_errors(rest, word)
                if errors <= allowed and not (known in noise and word in noise):
                    expected = vocabulary[known] * vocabulary[word] / total
                    weight = math.sqrt(expected) * math.exp(
                        -ERROR_COST * (1.0 + errors)
                    )
                    both = pattern.format(known, word)
                    found[both] = max(found.get(both, 0.0), weight)
    return found


class Known(Protocol):
    """Whatever tells by `in` whether somebody knows a word: a set, or `words.KnownWords`."""

    def __contains__(self, word: str, /) -> bool: ...


def joined(
    text: str, known: Known, literal: Collection[str]
) -> tuple[str, list[tuple[str, str]]]:
    """A folded text with words put together that a slip of the thumb parted, and what was put together.

    One half is a word that nobody knows, the whole is one that somebody does; `literal` words stay as they are.

    >>> joined("bat tery not found", {"bat", "battery", "not", "found"}, ())
    ('battery not found', [('bat tery', 'battery')])
    """
    literal_words = frozenset(literal)
    pieces = re.split(r"([^a-z']+)", text)
    found = []
    at = 0
    while at + 2 < len(pieces):
        left, between, right = pieces[at : at + 3]
        may_be_one = between == " " and literal_words.isdisjoint((left, right))
        if may_be_one and _is_parted(left, right, known):
            found.append((f"{left} {right}", left + right))
            pieces[at : at + 3] = [left + right]
        at += 2
    return "".join(pieces), found


def _is_parted(left: str, right: str, known: Known) -> bool:
    """Whether two pieces are the halves of one known word: together they are one, and not both of them alone."""
    if not left or not right or len(left + right) < SHORTEST_WHOLE:
        return False
    both_known = left in known and right in known
    return not both_known and left + right in known


def numbers_apart(text: str, known: Known) -> str:
    """A folded text with a space between a number and the word it runs into, if nobody knows both as one.

    >>> numbers_apart("5beeps on usb3", {"beeps", "usb", "usb3"})
    '5 beeps on usb3'
    """

    def parts(found: re.Match[str]) -> str:
        word, both = found["word"], (found["word"], found["figures"])
        if found["number"]:
            word, both = found["after"], (found["number"], found["after"])
        is_parted = word in known and found[0] not in known
        return " ".join(both) if is_parted else found[0]

    return _NUMBER_AND_WORD.sub(parts, text)
