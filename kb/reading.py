"""How typed text is read: each word as it stands or, if nobody knows it, as what it may have been meant to be."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from kb import spelling, terms
from kb.words import Lexicon, Token, tokens


class Vocabulary(Protocol):
    """The words that the library knows."""

    def knows(self, stem: str) -> bool:
        """Whether some word of the library has this stem."""

    def words(self) -> Mapping[str, float]:
        """Every word as written in the library, with its count."""


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
    """A text as read: for every word its alternatives, and the corrections a person should see."""

    words: tuple[tuple[Alternative, ...], ...]
    corrections: tuple[Correction, ...]


def read(text: str, lexicon: Lexicon, vocabulary: Vocabulary, unfinished: bool = False) -> Reading:
    """The words of a text with their likely readings.

    A word in "double quotes" is taken literally. With `unfinished` the last word is still being typed,
    so that its completions are readings too.
    """
    literal = frozenset(quoted_words(text))
    found = tokens(text, lexicon)
    readings = _unknown(found, lexicon, vocabulary, literal, unfinished and text[-1:].isalnum())
    corrections = tuple(
        Correction(typed, ways[0].word) for typed, ways in readings.items() if ways[0].word not in ("", typed)
    )
    words = []
    for token, own in zip(found, terms.by_token(found, lexicon), strict=True):
        ways = readings.get(token.typed)
        if ways is None:
            words.append((Alternative(1.0, tuple(own)),))
        else:
            words.append(tuple(_alternative(way, token, lexicon) for way in ways if way.word))
    return Reading(tuple(words), corrections)


def corrected(text: str, lexicon: Lexicon, vocabulary: Vocabulary) -> str:
    """The text with unknown words replaced where one reading is likelier than all others together."""
    found = tokens(text, lexicon)
    readings = _unknown(found, lexicon, vocabulary, frozenset(), False)
    best = {typed: ways[0].word for typed, ways in readings.items() if ways[0].word and ways[0].share > 0.5}
    for typed, word in best.items():
        text = " ".join(word if piece.casefold().strip(",.;:!?") == typed else piece for piece in text.split())
    return text


def quoted_words(text: str) -> list[str]:
    """The words that stand in double quotes, folded.

    >>> quoted_words('the "chrg" light')
    ['chrg']
    """
    return [word.casefold() for piece in text.split('"')[1::2] for word in piece.split()]


def _unknown(
    found: Sequence[Token], lexicon: Lexicon, vocabulary: Vocabulary, literal: frozenset[str], ends_open: bool
) -> dict[str, tuple[spelling.Reading, ...]]:
    readings = {}
    for token in found:
        unfinished = ends_open and token is found[-1]
        known = token.concept or vocabulary.knows(token.stem) or token.typed in lexicon.known_words
        if token.typed in literal or not spelling.is_plain_word(token.typed) or (known and not unfinished):
            continue
        readings[token.typed] = spelling.readings(token.typed, vocabulary.words(), unfinished)
    return readings


def _alternative(way: spelling.Reading, typed: Token, lexicon: Lexicon) -> Alternative:
    found = []
    for token in tokens(way.word, lexicon):
        found.append("w:" + token.stem)
        if thing := terms.thing_of(token, lexicon):
            found.append(f"s:{thing}{terms.sign_of(typed)}")
    return Alternative(way.share, tuple(found))
