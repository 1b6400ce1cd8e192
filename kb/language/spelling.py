"""Spelling: what an unknown word was probably meant to be; a noisy channel over the library's own words."""

from __future__ import annotations

import math
import re
import sys
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.language.mistyping import (
    EASY_ERROR,
    ERROR_COST,
    SPARE_ERROR,
    SWAPPED_LETTERS,
    allowed_errors,
    plausible_errors,
    typing_errors,
)
from kb.language.spacing import parted, parted_with_a_slip
from kb.language.words import stem

#: Letters at least from which a word is made out that was cut short in haste, and one that is still being typed.
FEWEST_LETTERS, FEWEST_WHILE_TYPED = 3, 2
#: A word may have so many readings.
MOST_READINGS = 6
#: The nearest words by plain distance that are looked at more closely.
LOOKED_AT = 16

#: A word of so few letters is like too many others.
SHORT_WORD = 3

#: A character that comes after all others in the order of words.
_AFTER_ALL = chr(sys.maxunicode)

_VOWELS = str.maketrans("", "", "aeiou")


@dataclass(frozen=True, slots=True)
class Guess:
    """A word that a typed one may stand for, and how likely; an empty word means "something unknown"."""

    word: str
    share: float


class CountedWords(dict[str, float]):
    """Words with their counts; what is asked of all of them together is worked out once. They are not to be changed."""

    @cached_property
    def _by_length(self) -> dict[tuple[int, int], list[str]]:
        return {}

    def of_length(self, letters: int, away: int) -> list[str]:
        """The words of so many letters, or so many less or more, in the order in which they were given."""
        found = self._by_length.get((letters, away))
        if found is None:
            found = [word for word in self if abs(len(word) - letters) <= away]
            self._by_length[letters, away] = found
        return found

    @cached_property
    def ordered(self) -> list[str]:
        """The words in order."""
        return sorted(self)

    @cached_property
    def total(self) -> float:
        """All counts together."""
        return sum(self.values())

    @cached_property
    def by_bones(self) -> Mapping[str, Sequence[str]]:
        """The words by their first letter and the consonants after it."""
        found: dict[str, list[str]] = defaultdict(list)
        for word in self:
            found[_bones(word)].append(word)
        return found


def guesses(
    typed: str,
    vocabulary: Mapping[str, float],
    unfinished: bool = False,
    noise: Collection[str] = (),
) -> tuple[Guess, ...]:
    """The likely readings of a word that the library does not know, shares summing to one.

    P(word | typed) ∝ sqrt(count of word) · exp(-ERROR_COST · errors) (a noisy channel); the reading ""
    competes with as many errors as the word's length makes plausible. A word may be cut short ("temp"), after
    fewer letters while it is `unfinished`, and all its forms are one reading then; one without vowels may be written
    short ("scrn"); two or more may be run together, of which one at least tells something (is not `noise`).

    >>> found = guesses("batery", {"battery": 90.0, "better": 3.0})
    >>> found[0].word, found[0].share > 0.8
    ('battery', True)
    """
    vocabulary = (
        vocabulary if isinstance(vocabulary, CountedWords) else CountedWords(vocabulary)
    )
    errors = _errors_of(typed, vocabulary, unfinished, noise)
    weights = {
        word: math.sqrt(vocabulary[word]) * math.exp(-ERROR_COST * many)
        for word, many in errors.items()
    }
    weights[""] = math.exp(-ERROR_COST * plausible_errors(typed))
    together, weight = parted(typed, vocabulary, noise, vocabulary.total)
    if together:
        weights[together] = weight
    if weights[""] == max(weights.values()):
        weights |= parted_with_a_slip(typed, vocabulary, noise, vocabulary.total)
    best = sorted(
        _forms_as_one(weights, typed).items(), key=lambda item: (-item[1], item[0])
    )[:MOST_READINGS]
    total = sum(weight for _, weight in best)
    return tuple(Guess(word, weight / total) for word, weight in best)


def _forms_as_one(weights: Mapping[str, float], typed: str) -> dict[str, float]:
    """The readings with all forms of a word that may have been cut short as one, under the likeliest.

    Their endings were cut off: nothing tells them apart, and they say the same.

    >>> _forms_as_one({"change": 3.0, "changes": 4.0, "chain": 2.0}, "chan")
    {'changes': 5.0, 'chain': 2.0}
    """
    forms: dict[str, list[tuple[float, str]]] = defaultdict(list)
    for word, weight in weights.items():
        forms[stem(word) if word.startswith(typed) else word].append((weight, word))
    return {
        max(held)[1]: math.hypot(*(weight for weight, _ in held))
        for held in forms.values()
    }


def _errors_of(
    typed: str, vocabulary: CountedWords, unfinished: bool, noise: Collection[str]
) -> dict[str, float]:
    """The words that may have been meant, each with the fewest errors that make it what was typed."""
    misspelt = _misspelt(typed, vocabulary)
    errors = {
        word: many
        for word, many in misspelt.items()
        if word not in noise or _is_slip(typed, word, many)
    }
    for word in _written_out(typed, vocabulary):
        errors[word] = min(errors.get(word, EASY_ERROR), EASY_ERROR)
    letters = FEWEST_WHILE_TYPED if unfinished else FEWEST_LETTERS
    for word in _begun_by(typed, vocabulary) if len(typed) >= letters else ():
        errors[word] = min(errors.get(word, EASY_ERROR), EASY_ERROR)
    return errors


def _misspelt(typed: str, vocabulary: CountedWords) -> dict[str, float]:
    """The words that a misspelt one may be, with the errors in it.

    Each step of the plain distance is an easy error at least, so that no word further away is looked at.
    """
    allowed = allowed_errors(typed)
    if not allowed:
        return {}
    most = allowed + SPARE_ERROR
    away = math.floor(most / EASY_ERROR)
    choices = vocabulary.of_length(len(typed), away)
    near = process.extract(
        typed, choices, scorer=OSA.distance, score_cutoff=away, limit=LOOKED_AT
    )
    errors = {word: typing_errors(typed, word) for word, _, _ in near if len(word) > 1}
    return {word: many for word, many in errors.items() if many <= most}


def _is_slip(typed: str, word: str, errors: float) -> bool:
    """Whether a word that tells nothing was mistyped by a slip of the hand alone; others may be words of any language.

    Letters swapped in a short word, one easy slip in a longer one.

    >>> _is_slip("teh", "the", 0.7), _is_slip("von", "on", 1.0), _is_slip("wich", "which", 0.7)
    (True, False, True)
    """
    return sorted(typed) == sorted(word) or (
        len(typed) > SHORT_WORD and errors <= SWAPPED_LETTERS
    )


def _begun_by(typed: str, vocabulary: CountedWords) -> list[str]:
    """The words of which what was typed is the beginning.

    >>> _begun_by("cha", CountedWords.fromkeys(["chip", "changes", "chain", "charm", "chat", "cha"], 1.0))
    ['cha', 'chain', 'changes', 'charm', 'chat']
    """
    ordered = vocabulary.ordered
    return ordered[
        bisect_left(ordered, typed) : bisect_left(ordered, typed + _AFTER_ALL)
    ]


def _written_out(typed: str, vocabulary: CountedWords) -> list[str]:
    """The words that a shorthand of three consonants or more may stand for: the same ones without their vowels.

    >>> words = CountedWords({"battery": 90.0, "bitter": 2.0, "buttery": 1.0, "beat": 5.0})
    >>> _written_out("bttry", words), _written_out("bat", words)
    (['battery', 'buttery'], [])
    """
    bones = _bones(typed)
    if len(bones) < 3 or typed[1:] != typed[1:].translate(_VOWELS):
        return []
    return [
        word for word in vocabulary.by_bones.get(bones, ()) if len(word) > len(typed)
    ]


def _bones(word: str) -> str:
    """The first letter of a word and the consonants after it, none doubled ("ck" is a double k).

    >>> _bones("keyboard"), _bones("scrn"), _bones("cracked"), _bones("battery")
    ('kybrd', 'scrn', 'crkd', 'btry')
    """
    kept = (word[:1] + word[1:].translate(_VOWELS)).replace("ck", "kk")
    return "".join(
        letter for at, letter in enumerate(kept) if letter != kept[at - 1 : at]
    )


def is_plain_word(typed: str) -> bool:
    """Whether a token is made of letters only, so that it may be misspelt at all."""
    return re.fullmatch(r"[a-z']+", typed) is not None
