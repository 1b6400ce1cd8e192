"""How typed text is read: the reading of each word as it stands or, if nobody knows it, as what it may mean."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Protocol

from kb.language import foreign, spelling, terms
from kb.language.dictated import put_back
from kb.language.emoji import in_words
from kb.language.spacing import joined, numbers_apart
from kb.language.words import (
    MAX_CHARACTERS,
    KnownWords,
    Lexicon,
    Token,
    Vocabulary,
    fold,
    things_named,
    tokens_of_folded,
)


class SpellingVocabulary(Vocabulary, Protocol):
    """The words that the library knows, and what others may stand for."""

    def guesses(
        self, typed: str, unfinished: bool, noise: Collection[str]
    ) -> tuple[spelling.Guess, ...]:
        """What a word that it does not know may stand for (`spelling.guesses` over all words of the library)."""


@dataclass(frozen=True, slots=True)
class Correction:
    """A word that was read as another one."""

    typed: str
    read_as: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """One way to read a word: how likely, and the terms it stands for."""

    share: float
    terms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """A text as read: its tokens, for every one of them its alternatives, and the corrections a person should see.

    `text` is what was typed, folded, with its spaces where they belong; `corrected` the same with each unknown word
    replaced that has one reading likelier than all others together. `tokens` are those of `corrected` and, where the
    few words of it mean more when nothing else is said, of what they mean, which is `meant`.
    """

    text: str
    corrected: str
    tokens: tuple[Token, ...]
    words: tuple[tuple[Alternative, ...], ...]
    corrections: tuple[Correction, ...]
    meant: str = ""


#: How likely a single word that another language has is meant as that, and not as a slip of an English one.
FOREIGN_SHARE = 0.5
#: A complaint of more words than this says enough by itself.
LONGEST_ALONE = 8
#: So many texts, and words with what they may stand for, are remembered where many texts are corrected: some 40 MB.
MOST_TEXTS, MOST_WORDS = 10_000, 30_000

#: Where a word begins, and what a word goes on with.
_WORD_BEGINS, _IN_WORD = re.compile(r"(?<![a-z0-9])(?=[a-z'])"), re.compile(r"[a-z0-9]")

#: The likely readings of unknown words, by the word as typed.
Guesses = Mapping[str, Sequence[spelling.Guess]]


def read(
    text: str,
    lexicon: Lexicon,
    vocabulary: SpellingVocabulary,
    unfinished: bool = False,
) -> Reading:
    """The words of a text with their likely readings.

    A word in "double quotes" is taken literally. With `unfinished` the last word is still being typed,
    so that its completions are readings too. A word with one reading likelier than all others together
    is read so before phrases and negations are looked for ("dosent" is "does not").
    """
    spaced, put_together = _spaced(text, lexicon, KnownWords(lexicon, vocabulary))
    as_typed = tokens_of_folded(spaced, lexicon)
    guesses = _guesses(spaced, as_typed, lexicon, vocabulary, unfinished)
    likely = _likely(guesses)
    corrected = _replaced(spaced, likely)
    found = tokens_of_folded(corrected, lexicon) if likely else as_typed
    if meant := _meant(found, lexicon, quoted_words(spaced)):
        found = tokens_of_folded(f"{corrected}, {meant}", lexicon)
    return Reading(
        text=spaced,
        corrected=corrected,
        tokens=tuple(found),
        words=_alternatives(found, guesses, likely, lexicon),
        corrections=(
            *put_together,
            *_corrections(guesses),
            *([Correction(" ".join(spaced.split()), meant)] if meant else ()),
        ),
        meant=meant,
    )


class Proofreader:
    """Corrects texts as `read` does, many one after another; what comes again is read once."""

    def __init__(self, lexicon: Lexicon, vocabulary: SpellingVocabulary) -> None:
        self._lexicon = lexicon
        self._known = KnownWords(lexicon, vocabulary)
        self._vocabulary = _AskedOnce(vocabulary)
        self.corrected = lru_cache(MOST_TEXTS)(self._corrected)

    def _corrected(self, text: str) -> str:
        """The text with unknown words replaced where one reading is likelier than all others together."""
        spaced, _ = _spaced(text, self._lexicon, self._known)
        found = tokens_of_folded(spaced, self._lexicon)
        return _replaced(
            spaced,
            _likely(_guesses(spaced, found, self._lexicon, self._vocabulary, False)),
        )


class _AskedOnce:
    """The words that a library knows; what each may stand for is asked once."""

    def __init__(self, vocabulary: SpellingVocabulary) -> None:
        self.knows = vocabulary.knows
        self._vocabulary = vocabulary
        self._held: dict[tuple[str, bool], tuple[spelling.Guess, ...]] = {}

    def guesses(
        self, typed: str, unfinished: bool, noise: Collection[str]
    ) -> tuple[spelling.Guess, ...]:
        found = self._held.get((typed, unfinished))
        if found is None:
            found = self._vocabulary.guesses(typed, unfinished, noise)
            if len(self._held) >= MOST_WORDS:
                self._held.clear()
            self._held[typed, unfinished] = found
        return found


def quoted_words(text: str) -> list[str]:
    """The words that stand in double quotes, folded.

    >>> quoted_words('the "chrg" light')
    ['chrg']
    """
    return [fold(word) for piece in text.split('"')[1::2] for word in piece.split()]


def _spaced(
    text: str, lexicon: Lexicon, known: KnownWords
) -> tuple[str, list[Correction]]:
    """The text, folded, with its spaces where they belong, and the words that were put together for it."""
    literal = quoted_words(text)
    english, translated = _in_english(
        in_words(text[:MAX_CHARACTERS], lexicon.emoji), lexicon, known, literal
    )
    heard, dictated = put_back(fold(english), lexicon, literal)
    whole, found = joined(numbers_apart(heard, known), known, literal)
    return whole, [
        *translated,
        *(
            Correction(typed, word)
            for typed, word in dict.fromkeys([*dictated, *found])
        ),
    ]


def _in_english(
    text: str, lexicon: Lexicon, known: KnownWords, literal: Collection[str]
) -> tuple[str, list[Correction]]:
    """A text with what is said in another language said in English, and which words those were."""
    languages = [
        foreign.Language(name, words) for name, words in lexicon.foreign.items()
    ]
    corrections = []
    for said in reversed(foreign.said_in_english(text, languages, known, literal)):
        corrections.append(Correction(text[said.start : said.end], said.english))
        text = f"{text[: said.start]}{said.english}{text[said.end :]}"
    return text, corrections[::-1]


def _meant(found: Sequence[Token], lexicon: Lexicon, literal: Collection[str]) -> str:
    """What a complaint of very few words means when nothing else is said; empty of others and of quoted ones."""
    if len(found) > LONGEST_ALONE or any(token.typed in literal for token in found):
        return ""
    return fold(lexicon.alone.get(things_named(found, lexicon), ""))


def _guesses(
    spaced: str,
    found: Sequence[Token],
    lexicon: Lexicon,
    vocabulary: SpellingVocabulary,
    unfinished: bool,
) -> Guesses:
    """What every word that neither library nor lexicon knows may have been meant to be.

    A thing of another subject is spelt as it should be: a boiler is not "boil", nor a fridge a bridge.
    """
    literal = frozenset(quoted_words(spaced))
    ends_open = unfinished and spaced[-1:].isalnum()
    guesses = {}
    for token in found:
        typed = token.typed
        if typed in literal or not spelling.is_plain_word(typed):
            continue
        open_end = ends_open and token is found[-1]
        known = token.concept or vocabulary.knows(token.stem)
        known = known or typed in lexicon.elsewhere
        if known and not open_end:
            continue
        guesses[typed] = vocabulary.guesses(typed, open_end, lexicon.noise)
        meaning = "" if known else foreign.meaning(typed, lexicon.foreign.values())
        if meaning:
            told = meaning if len(found) == 1 else ""
            guesses[typed] = _beside(told, guesses[typed])
    return guesses


def _beside(
    meaning: str, slips: tuple[spelling.Guess, ...]
) -> tuple[spelling.Guess, ...]:
    """A word that another language has, and beside it what it would be as a slip: as likely all together.

    So it is never written over with an English word, and one whose slip it is still finds what was meant. What it means
    there is told of a word alone; a single one among English words says nothing that is known.
    """
    halved = (replace(slip, share=slip.share * (1 - FOREIGN_SHARE)) for slip in slips)
    return (spelling.Guess(meaning, FOREIGN_SHARE), *halved)


def _likely(guesses: Guesses) -> dict[str, str]:
    """The words that have one reading likelier than all others together, each with that reading."""
    likely = {}
    for typed, held in guesses.items():
        first = held[0]
        if first.word and first.share > 0.5:
            likely[typed] = first.word
    return likely


def _corrections(guesses: Guesses) -> list[Correction]:
    """The words that are read as another one first of all."""
    found = []
    for typed, held in guesses.items():
        word = held[0].word
        if word not in ("", typed):
            found.append(Correction(typed, word))
    return found


def _replaced(folded: str, likely: Mapping[str, str]) -> str:
    """A folded text with each of those words replaced."""
    if not likely:
        return folded
    longest_first = sorted(likely, key=len, reverse=True)
    told: list[str] = []
    end = 0
    for begins in _WORD_BEGINS.finditer(folded):
        at = begins.start()
        typed = next((one for one in longest_first if _stands_at(at, one, folded)), "")
        if typed and at >= end:
            told += [folded[end:at], likely[typed]]
            end = at + len(typed)
    return "".join((*told, folded[end:]))


def _stands_at(at: int, word: str, text: str) -> bool:
    """Whether a word stands at that place of a text and ends there, too."""
    end = at + len(word)
    return text.startswith(word, at) and _IN_WORD.match(text, end) is None


def _alternatives(
    found: Sequence[Token],
    guesses: Guesses,
    likely: Mapping[str, str],
    lexicon: Lexicon,
) -> tuple[tuple[Alternative, ...], ...]:
    """For every token of the corrected text the ways to read it, as it stands there first."""
    origin = {
        piece: typed
        for typed, word in likely.items()
        for piece in fold(word).split()[:1]
    }
    words = []
    for token, own in zip(found, terms.by_token(found, lexicon), strict=True):
        typed = origin.get(token.typed, token.typed)
        guessed = guesses.get(typed, ())
        share = _share_as_it_stands(typed, guessed, likely)
        ways = [Alternative(share, tuple(own))] if share else []
        first = likely.get(typed)
        others = [guess for guess in guessed if guess.word not in ("", first)]
        ways += [_alternative(guess, token, lexicon) for guess in others]
        words.append(tuple(ways))
    return tuple(words)


def _share_as_it_stands(
    typed: str, guessed: Sequence[spelling.Guess], likely: Mapping[str, str]
) -> float:
    """How likely the word that stands in the corrected text is what was meant."""
    if typed in likely:
        return guessed[0].share
    return 0.0 if guessed else 1.0


def _alternative(guess: spelling.Guess, typed: Token, lexicon: Lexicon) -> Alternative:
    found = []
    for token in tokens_of_folded(fold(guess.word), lexicon):
        found.append("w:" + token.stem)
        if thing := terms.thing_of(token, lexicon):
            found.append(f"s:{thing}{terms.sign_of(typed)}")
    return Alternative(guess.share, tuple(found))
