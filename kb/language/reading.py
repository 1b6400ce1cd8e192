"""How typed text is read: each word as it stands or, if nobody knows it, as what it may have been meant to be."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Protocol

from kb.language import spelling, terms
from kb.language.spacing import joined, numbers_apart
from kb.language.words import MAX_CHARACTERS, Lexicon, Token, fold, stem, tokens


class Vocabulary(Protocol):
    """The words that the library knows."""

    def knows(self, stem: str) -> bool:
        """Whether some word of the library has this stem."""

    def readings(self, typed: str, unfinished: bool, noise: Collection[str]) -> tuple[spelling.Reading, ...]:
        """What a word that it does not know may stand for (`spelling.readings` over all words of the library)."""


@dataclass(frozen=True, slots=True)
class Correction:
    """A word that was read as another one."""

    typed: str
    read_as: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """One reading of a word: how likely, and the terms it stands for."""

    share: float
    terms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """A text as read: for every word its alternatives, and the corrections a person should see.

    `text` is what was typed with its spaces where they belong.
    """

    text: str
    words: tuple[tuple[Alternative, ...], ...]
    corrections: tuple[Correction, ...]


def read(text: str, lexicon: Lexicon, vocabulary: Vocabulary, unfinished: bool = False) -> Reading:
    """The words of a text with their likely readings.

    A word in "double quotes" is taken literally. With `unfinished` the last word is still being typed,
    so that its completions are readings too. A word with one reading likelier than all others together
    is read so before phrases and negations are looked for ("dosent" is "does not").
    """
    text, put_together = _spaced(text, lexicon, vocabulary)
    ways = _unknown(text, lexicon, vocabulary, unfinished)
    best = _best(ways)
    origin = {piece: typed for typed, word in best.items() for piece in fold(word).split()[:1]}
    found = tokens(_replaced(text, best), lexicon)
    words = []
    for token, own in zip(found, terms.by_token(found, lexicon), strict=True):
        typed = origin.get(token.typed, token.typed)
        others = [way for way in ways.get(typed, ()) if way.word and way.word != best.get(typed)]
        first = ways[typed][0].share if typed in best else 0.0 if typed in ways else 1.0
        alternatives = [Alternative(first, tuple(own))] if first else []
        words.append((*alternatives, *(_alternative(way, token, lexicon) for way in others)))
    shown = tuple(Correction(typed, held[0].word) for typed, held in ways.items() if held[0].word not in ("", typed))
    return Reading(text, tuple(words), (*put_together, *shown))


def corrected(text: str, lexicon: Lexicon, vocabulary: Vocabulary) -> str:
    """The text with unknown words replaced where one reading is likelier than all others together."""
    text, _ = _spaced(text, lexicon, vocabulary)
    return _replaced(text, _best(_unknown(text, lexicon, vocabulary, False)))


def quoted_words(text: str) -> list[str]:
    """The words that stand in double quotes, folded.

    >>> quoted_words('the "chrg" light')
    ['chrg']
    """
    return [word.casefold() for piece in text.split('"')[1::2] for word in piece.split()]


def _spaced(text: str, lexicon: Lexicon, vocabulary: Vocabulary) -> tuple[str, tuple[Correction, ...]]:
    """The text with its spaces where they belong, and the words that were put together for it."""

    def is_known(word: str) -> bool:
        return _is_known(word, lexicon, vocabulary)

    apart = numbers_apart(fold(text[:MAX_CHARACTERS]), is_known)
    whole, found = joined(apart, is_known, quoted_words(text))
    return whole, tuple(Correction(typed, word) for typed, word in dict.fromkeys(found))


def _is_known(word: str, lexicon: Lexicon, vocabulary: Vocabulary) -> bool:
    """Whether the library or the lexicon holds a folded word."""
    stemmed = stem(word)
    return (stemmed,) in lexicon.same or vocabulary.knows(stemmed)


def _unknown(
    text: str, lexicon: Lexicon, vocabulary: Vocabulary, unfinished: bool
) -> dict[str, tuple[spelling.Reading, ...]]:
    """The likely readings of every word that neither library nor lexicon knows."""
    literal = frozenset(quoted_words(text))
    found = tokens(text, lexicon)
    ends_open = unfinished and text[-1:].isalnum()
    readings = {}
    for token in found:
        open_end = ends_open and token is found[-1]
        known = token.concept or vocabulary.knows(token.stem)
        if token.typed in literal or not spelling.is_plain_word(token.typed) or (known and not open_end):
            continue
        readings[token.typed] = vocabulary.readings(token.typed, open_end, lexicon.noise)
    return readings


def _best(ways: Mapping[str, tuple[spelling.Reading, ...]]) -> dict[str, str]:
    return {typed: held[0].word for typed, held in ways.items() if held[0].word and held[0].share > 0.5}


def _replaced(text: str, best: Mapping[str, str]) -> str:
    if not best:
        return text
    pattern = "|".join(re.escape(typed) for typed in sorted(best, key=len, reverse=True))
    return re.sub(rf"(?<![a-z0-9])(?:{pattern})(?![a-z0-9])", lambda match: best[match[0]], fold(text))


def _alternative(way: spelling.Reading, typed: Token, lexicon: Lexicon) -> Alternative:
    found = []
    for token in tokens(way.word, lexicon):
        found.append("w:" + token.stem)
        if thing := terms.thing_of(token, lexicon):
            found.append(f"s:{thing}{terms.sign_of(typed)}")
    return Alternative(way.share, tuple(found))
