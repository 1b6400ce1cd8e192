"""Foreign words said in English: whole complaints in another language, and single words of one in between."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from kb.language.spacing import Known
from kb.language.words import fold

#: Letters that may follow the beginning of a word that is listed with a star.
LONGEST_ENDING = 5
#: Letters of each part of a compound, and of what may join the two.
SHORTEST_PART, LONGEST_JOINT = 3, 2
#: One word of so many letters shows that another language is spoken; shorter ones are too like typing errors.
TELLING = 5
#: The languages that write several words as one.
COMPOUNDING = frozenset({"german"})

_WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*")
_ELIDED = re.compile(r"(?:[cdjlmnst]|qu)'(?=..)")
_BREAKS = frozenset(
    ("and", "but", "or", "if", "when", "because", "while", "since", "then")
)


@dataclass(frozen=True)
class Language:
    """The words of one language, folded, with the English of each.

    A key may be a phrase of several words; one with a star at its end stands for all words that begin so, one with a
    full stop for what ends a clause.
    """

    name: str
    words: Mapping[str, str]

    @cached_property
    def longest(self) -> Mapping[str, int]:
        """By their first word the number of words of the longest phrase."""
        found: dict[str, int] = {}
        for phrase in self.words:
            first, *others = phrase.removesuffix(".").split()
            found[first] = max(found.get(first, 1), 1 + len(others))
        return found

    def english(self, word: str) -> str:
        """The English of one folded word, whether listed, of a listed beginning or made of two such; empty if unknown.

        >>> some = Language("german", {"lade*": "charge", "lampe*": "light", "bild": "picture"})
        >>> some.english("ladelampen"), some.english("bild"), some.english("bilder")
        ('charge light', 'picture', '')
        """
        plain = _plain(word)
        return (
            self.words.get(plain)
            or self._compound(plain)
            or self._begun(plain, LONGEST_ENDING)
        )

    def holds(self, word: str) -> bool:
        """Whether this very word is listed."""
        return word in self.words or f"{word}." in self.words

    def is_sure_of(self, word: str) -> bool:
        """Whether a word is listed as it stands or made of two listed ones: an English slip may well begin like one."""
        plain = _plain(word)
        return (
            plain in self.words
            or f"{plain}*" in self.words
            or bool(self._compound(plain))
        )

    def _begun(self, word: str, letters: int) -> str:
        """The English of the longest listed beginning, after which so many letters at most may follow."""
        for end in range(len(word), max(len(word) - letters, SHORTEST_PART) - 1, -1):
            if found := self.words.get(f"{word[:end]}*"):
                return found
        return ""

    def _compound(self, word: str) -> str:
        """The English of a word that is two listed ones in one, the first as long as may be."""
        if self.name not in COMPOUNDING:
            return ""
        for cut in range(len(word) - SHORTEST_PART, SHORTEST_PART - 1, -1):
            first = self.words.get(word[:cut]) or self._begun(word[:cut], LONGEST_JOINT)
            if first:
                second = self.words.get(word[cut:]) or self._begun(
                    word[cut:], LONGEST_JOINT
                )
                if second:
                    return f"{first} {second}"
        return ""


def meaning(word: str, languages: Iterable[Mapping[str, str]]) -> str:
    """The English of a word that one of the languages lists as it stands; empty if none does.

    >>> meaning("nicht", [{"nein": "no"}, {"nicht": "not"}]), meaning("lampen", [{"lampe*": "light"}])
    ('not', '')
    """
    return next((words[word] for words in languages if word in words), "")


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of a text in another language, from where to where it goes, and what it says in English."""

    start: int
    end: int
    english: str


def said_in_english(
    text: str,
    languages: Sequence[Language],
    known: Known,
    literal: Collection[str] = (),
) -> list[Stretch]:
    """The stretches of a text that are in another language, with their English.

    A word that is English as well is read as the words around it are. A word that neither knows tells nothing among
    foreign ones: it is left out, and never taken for a mistyped English one.

    >>> german = Language("german", {"lampe": "light", "geht nicht": "does not work", "die": "the"})
    >>> said_in_english("die Lampe geht nicht but the fan does", [german], {"die", "but", "the", "fan", "does"})
    [Stretch(start=0, end=20, english='the light does not work')]
    """
    found = list(_WORD.finditer(text))
    words = [fold(match[0]) for match in found]
    strangers = [
        word.isalpha() and word not in known and word not in literal
        for word in map(_plain, words)
    ]
    if not any(strangers):
        return []
    heard = [_heard(words, strangers, language) for language in languages]
    best = max(heard, key=lambda one: sum(one.foreign), default=None)
    if best is None or not best.tells:
        return []
    return _joined(text, found, list(_pieces(text, found, best)))


def _plain(word: str) -> str:
    """A word without an article or pronoun that lost its vowel before it.

    >>> _plain("l'ecran"), _plain("don't")
    ('ecran', "don't")
    """
    return _ELIDED.sub("", word, count=1) if "'" in word else word


@dataclass(frozen=True, slots=True)
class _Heard:
    """A text beside one language: its folded words, which are not English, and which belong to one language alone."""

    language: Language
    words: Sequence[str]
    strangers: Sequence[bool]
    foreign: Sequence[bool]
    english: Sequence[bool]

    @property
    def spoken(self) -> Collection[str]:
        """The different words that belong to that language alone."""
        return {
            word
            for word, is_foreign in zip(self.words, self.foreign, strict=True)
            if is_foreign
        }

    @property
    def tells(self) -> bool:
        """Whether that language is spoken here: two of its words, a long one beyond doubt, or no word of another."""
        spoken = self.spoken
        if len(spoken) != 1:
            return bool(spoken)
        [word] = spoken
        is_sure = len(word) >= TELLING and self.language.is_sure_of(word)
        return is_sure or self.is_all_foreign

    @property
    def is_all_foreign(self) -> bool:
        """Whether the text has several words, each of which may be of that language."""
        if len(self.words) < 2:
            return False
        for word, is_foreign in zip(self.words, self.foreign, strict=True):
            if not is_foreign and not self.language.holds(word):
                return False
        return True

    def is_among_foreign(self, at: int) -> bool:
        """Whether the nearest words that belong to one language alone are foreign; if as near as English ones, most."""
        if self.foreign[at]:
            return True
        for away in range(1, len(self.words)):
            foreign, english = (
                _as_near(self.foreign, at, away),
                _as_near(self.english, at, away),
            )
            if foreign and english:
                break
            if foreign or english:
                return foreign
        return sum(self.foreign) >= sum(self.english)


def _as_near(holds: Sequence[bool], at: int, away: int) -> bool:
    """Whether something holds at one of the two places so far away, before or after."""
    before, after = at - away, at + away
    if before >= 0 and holds[before]:
        return True
    return after < len(holds) and holds[after]


def _heard(
    words: Sequence[str], strangers: Sequence[bool], language: Language
) -> _Heard:
    foreign, english = [], []
    for word, stranger in zip(words, strangers, strict=True):
        is_word = word.isalpha() and len(word) > 1
        foreign.append(stranger and bool(language.english(word)))
        english.append(is_word and not stranger and not language.holds(word))
    return _Heard(language, words, strangers, foreign, english)


def _pieces(
    text: str, found: Sequence[re.Match[str]], heard: _Heard
) -> Iterator[tuple[int, int, str]]:
    """The foreign words and phrases by the numbers of their first and last word, with their English.

    A word that neither language knows and that stands among foreign ones has none.
    """
    at = 0
    while at < len(found):
        if heard.english[at] or not heard.is_among_foreign(at):
            at += 1
            continue
        length, english = _phrase_at(text, found, heard, at)
        is_unknown = heard.strangers[at] and len(heard.spoken) > 1
        if english or is_unknown:
            yield at, at + length - 1, english
        at += length


def _phrase_at(
    text: str, found: Sequence[re.Match[str]], heard: _Heard, at: int
) -> tuple[int, str]:
    """How many words the longest listed phrase holds that begins here, and its English; (1, "") if none is listed."""
    language, words = heard.language, heard.words
    for length in range(
        min(language.longest.get(words[at], 1), len(words) - at), 0, -1
    ):
        last = at + length - 1
        if any(_gap(text, found, place).strip(" -/") for place in range(at, last)):
            continue
        phrase = " ".join(words[at : at + length])
        english = None
        if _ends_clause(text, found, heard, last):
            english = language.words.get(f"{phrase}.")
        if not english:
            known_as = language.english if length == 1 else language.words.get
            english = known_as(phrase)
        if english:
            return length, english
    return 1, ""


def _gap(text: str, found: Sequence[re.Match[str]], at: int) -> str:
    """What stands between a word and the next one."""
    return text[found[at].end() : found[at + 1].start()]


def _ends_clause(
    text: str, found: Sequence[re.Match[str]], heard: _Heard, at: int
) -> bool:
    """Whether a clause ends with that word: with the text, a sign, or the next word."""
    if at + 1 == len(found) or _gap(text, found, at).strip(" -"):
        return True
    following = heard.words[at + 1]
    return (heard.language.words.get(following) or following) in _BREAKS


def _joined(
    text: str, found: Sequence[re.Match[str]], pieces: Sequence[tuple[int, int, str]]
) -> list[Stretch]:
    """The pieces with those put together that only blanks part."""
    stretches: list[Stretch] = []
    for first, last, english in pieces:
        start, end = found[first].start(), found[last].end()
        before = stretches[-1] if stretches else None
        if before and not text[before.end : start].strip():
            stretches[-1] = Stretch(
                before.start, end, f"{before.english} {english}".strip()
            )
        else:
            stretches.append(Stretch(start, end, english))
    return stretches
