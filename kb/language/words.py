"""Typed text as the search reads it: folded, split into clauses, stemmed, and said in the trade's words."""

from __future__ import annotations

import json
import re
import threading
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import NamedTuple, Protocol

from Stemmer import Stemmer

from kb.base.trouble import Trouble
from kb.language import clauses
from kb.language.emoji import undressed
from kb.language.sounds import sounds

#: A query is read up to here; nobody describes a fault in more.
MAX_CHARACTERS = 500
#: Of so many words it is remembered whether they are known: more than most complaints are made of.
MOST_ASKED = 100_000
#: How often a contraction is taken to be said in a library whose commonest words are said some thousand times.
SHORT_FORM = 50

_UNFOLDED = str.maketrans(
    {
        "Ł": "l",
        "Ø": "o",
        "Đ": "d",
        "Æ": "ae",
        "Œ": "oe",
        "ł": "l",
        "ø": "o",
        "đ": "d",
        "ß": "ss",
        "æ": "ae",
        "œ": "oe",
        "ı": "i",
        "’": "'",
        "`": "'",
    }
)
_TOKEN = re.compile(r"[a-z0-9]+(?:[-./'][a-z0-9]+)*|[%&+]|[,;:.!?()\n–—]|-(?=\s)")
_SPELT_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})
#: The tables of words of other languages (`foreign.toml`).
LANGUAGES = ("german", "spanish", "french", "polish")
_BREAK_SIGNS = frozenset(",;:.!?()\n–—-")
_HAS_DIGIT = re.compile(r"\d")


class Token(NamedTuple):
    """One word: as typed, its stem, the trade's word for it if there is one, and the sign of its clause.

    `well` says that the clause tells of something that is well, or denies a fault.
    """

    typed: str
    stem: str
    concept: str
    negative: bool
    clause: int
    well: bool = False


@dataclass(frozen=True)
class Lexicon:
    """Synonyms, contractions, clause words and noise: stock words with the shop's own added.

    `exact` holds the words whose stem two concepts share, or a word of another meaning, each with its own concept
    ("" for none); `alone` what a few words mean when nothing else is said, by the sorted things that they name;
    `foreign` by language the English of its words; `emoji` what they stand for; `heard` what
    dictated phrases mean; `sounds` by their sound words of the trade, each stem with the trade's word; `machine` is the
    trade's word for the machine itself.
    """

    same: Mapping[tuple[str, ...], str]
    short: Mapping[str, str]
    breaks: frozenset[str]
    negative: frozenset[str]
    positive: frozenset[str]
    noise: frozenset[str]
    exact: Mapping[str, str] = field(default_factory=dict)
    alone: Mapping[tuple[str, ...], str] = field(default_factory=dict)
    foreign: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    emoji: Mapping[str, str] = field(default_factory=dict)
    heard: Mapping[str, str] = field(default_factory=dict)
    sounds: Mapping[str, Sequence[str]] = field(default_factory=dict)
    symptoms: frozenset[str] = frozenset()
    elsewhere: frozenset[str] = frozenset()
    beside: frozenset[str] = frozenset()
    asking: frozenset[str] = frozenset()
    verbs: frozenset[str] = frozenset()
    machine: str = ""

    @cached_property
    def marks(self) -> clauses.Marks:
        """The words by which clauses are told."""
        return clauses.Marks(self.negative, self.positive, self.symptoms)

    @cached_property
    def by_first(self) -> Mapping[str, tuple[tuple[tuple[str, ...], str], ...]]:
        """The phrases with their concepts by their first stem, longest first."""
        found: dict[str, list[tuple[tuple[str, ...], str]]] = {}
        for phrase, concept in self.same.items():
            if phrase:
                found.setdefault(phrase[0], []).append((phrase, concept))
        return {
            first: tuple(sorted(held, key=lambda one: -len(one[0])))
            for first, held in found.items()
        }

    @cached_property
    def everyday(self) -> frozenset[str]:
        """The words that every complaint may hold, whatever it is about."""
        return (
            self.noise
            | self.negative
            | self.positive
            | self.breaks
            | frozenset(self.short)
        )

    @cached_property
    def heard_first(self) -> frozenset[str]:
        """The first words of the phrases that a machine hears for others."""
        return frozenset(phrase.split(" ")[0] for phrase in self.heard)

    @cached_property
    def known_words(self) -> Mapping[str, int]:
        """Every single word the lexicon mentions, unstemmed, with a count: words that are right in the trade.

        Short forms are written out before the library's words are counted, though everybody says them.
        """
        words = {word for phrase in self.same for word in phrase}
        mentioned = words | self.breaks | self.negative | self.positive | self.noise
        return dict.fromkeys(mentioned, 1) | dict.fromkeys(self.short, SHORT_FORM)


def fold(text: str) -> str:
    """Lower case without accents, so that `Łożysko` and `lozysko` meet.

    >>> fold("Łożysko ÉCRAN Straße")
    'lozysko ecran strasse'
    """
    if text.isascii():
        return text.lower().replace("`", "'")
    lower = (
        unicodedata.normalize("NFKD", text.translate(_UNFOLDED))
        .casefold()
        .translate(_UNFOLDED)
    )
    folded = unicodedata.normalize("NFKD", lower)
    return "".join(c for c in folded if not unicodedata.combining(c))


@lru_cache(maxsize=50_000)
def stem(word: str) -> str:
    """The English stem of a folded word (Snowball's English stemmer).

    >>> stem("charging"), stem("charges"), stem("usb-c")
    ('charg', 'charg', 'usb-c')
    """
    with _ONE_AT_A_TIME:
        return str(_STEMMER.stemWord(word))


#: Snowball's own code in C, through PyStemmer; a stemmer must not be used by two threads at once.
_STEMMER = Stemmer("english")
_ONE_AT_A_TIME = threading.Lock()


#: The tables that a file of words may have.
TABLES = (
    "same",
    "short",
    "clause",
    "noise",
    "alone",
    "apart",
    "emoji",
    "heard",
    "elsewhere",
    "machine",
    *LANGUAGES,
)


def read_lexicon(*paths: Path) -> Lexicon:
    """The lexicon of the given files, later ones added to earlier ones; missing files are skipped.

    Raises Trouble naming the file when one cannot be read.
    """
    return _of_contents(
        tuple((path, path.read_bytes()) for path in paths if path.exists())
    )


@lru_cache(maxsize=2)
def _of_contents(contents: tuple[tuple[Path, bytes], ...]) -> Lexicon:
    """The lexicon of files that hold this; their stems cost a third of a second, so the same are not read twice."""
    import tomllib  # only a new index needs it

    tables: dict[str, dict[str, list[str] | str]] = {name: {} for name in TABLES}
    for path, content in contents:
        try:
            given = tomllib.loads(content.decode("utf-8"))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise Trouble(f"{path} is not readable: {error}; mend that line") from error
        for name, table in tables.items():
            for key, value in given.get(name, {}).items():
                earlier = table.get(key)
                table[key] = (
                    [*earlier, *value]
                    if isinstance(earlier, list) and isinstance(value, list)
                    else value
                )
    return _lexicon(tables)


def to_json(lexicon: Lexicon) -> str:
    """The lexicon as JSON, so that a start need not stem it anew."""
    return json.dumps(
        {
            "same": [
                [list(phrase), concept] for phrase, concept in lexicon.same.items()
            ],
            "short": dict(lexicon.short),
            "breaks": sorted(lexicon.breaks),
            "negative": sorted(lexicon.negative),
            "positive": sorted(lexicon.positive),
            "noise": sorted(lexicon.noise),
            "exact": dict(lexicon.exact),
            "alone": [[list(things), meant] for things, meant in lexicon.alone.items()],
            "foreign": {name: dict(held) for name, held in lexicon.foreign.items()},
            "emoji": dict(lexicon.emoji),
            "heard": dict(lexicon.heard),
            "sounds": {heard: list(word) for heard, word in lexicon.sounds.items()},
            "symptoms": sorted(lexicon.symptoms),
            "elsewhere": sorted(lexicon.elsewhere),
            "beside": sorted(lexicon.beside),
            "asking": sorted(lexicon.asking),
            "verbs": sorted(lexicon.verbs),
            "machine": lexicon.machine,
        }
    )


@lru_cache(maxsize=8)
def from_json(text: str) -> Lexicon:
    """The lexicon that `to_json` wrote."""
    given = json.loads(text)
    return Lexicon(
        same={tuple(phrase): concept for phrase, concept in given["same"]},
        short=given["short"],
        breaks=frozenset(given["breaks"]),
        negative=frozenset(given["negative"]),
        positive=frozenset(given["positive"]),
        noise=frozenset(given["noise"]),
        exact=given["exact"],
        alone={tuple(things): meant for things, meant in given["alone"]},
        foreign=given["foreign"],
        emoji=given["emoji"],
        heard=given["heard"],
        sounds=given["sounds"],
        symptoms=frozenset(given["symptoms"]),
        elsewhere=frozenset(given["elsewhere"]),
        beside=frozenset(given["beside"]),
        asking=frozenset(given["asking"]),
        verbs=frozenset(given["verbs"]),
        machine=given["machine"],
    )


class Vocabulary(Protocol):
    """The words that the library knows."""

    def knows(self, stem: str) -> bool:
        """Whether some word of the library has this stem."""


class KnownWords:
    """The folded words that the library or the lexicon holds, asked with `in`; each is looked up once."""

    def __init__(self, lexicon: Lexicon, vocabulary: Vocabulary) -> None:
        self._lexicon = lexicon
        self._vocabulary = vocabulary
        self._asked: dict[str, bool] = {}

    def __contains__(self, word: str) -> bool:
        known = self._asked.get(word)
        if known is None:
            known = self._asked[word] = self._is_held(word)
            if len(self._asked) > MOST_ASKED:
                self._asked.clear()
        return known

    def _is_held(self, word: str) -> bool:
        if word in self._lexicon.noise or word in self._lexicon.short:
            return True
        stemmed = stem(word)
        return (stemmed,) in self._lexicon.same or self._vocabulary.knows(stemmed)


def common_words() -> tuple[Path, ...]:
    """The words of any workshop, and those of other languages; a library adds the words of its trade."""
    here = Path(__file__)
    return here.with_name("words.toml"), here.with_name("foreign.toml")


def _lexicon(tables: Mapping[str, Mapping[str, list[str] | str]]) -> Lexicon:
    same: dict[tuple[str, ...], str] = {}
    for concept, phrases in tables["same"].items():
        name = concept.upper()
        for phrase in (concept, *phrases):
            same.setdefault(_phrase(phrase), name)
    short = {fold(key): fold(str(value)) for key, value in tables["short"].items()}

    def listed(table: str, key: str) -> frozenset[str]:
        return frozenset(fold(word) for word in tables[table].get(key, ()))

    lexicon = Lexicon(
        same=same,
        short=short,
        breaks=listed("clause", "breaks"),
        negative=listed("clause", "negative"),
        positive=listed("clause", "positive"),
        noise=listed("noise", "words"),
        exact=_exact(tables),
        foreign={name: _foreign(tables[name]) for name in LANGUAGES},
        emoji={undressed(shown): str(said) for shown, said in tables["emoji"].items()},
        heard={
            fold(written): fold(said)
            for said, ways in tables["heard"].items()
            for written in ways
        },
        sounds=sounds(same),
        symptoms=listed("clause", "symptoms"),
        elsewhere=listed("elsewhere", "words"),
        beside=listed("elsewhere", "beside"),
        asking=listed("elsewhere", "asking"),
        verbs=listed("clause", "verbs"),
        machine=str(tables["machine"].get("word", "")).upper(),
    )
    return replace(lexicon, alone=_alone(tables["alone"], lexicon))


def _foreign(table: Mapping[str, list[str] | str]) -> dict[str, str]:
    """The English by foreign word, folded; with ae, oe, ue as well for the vowels that carry a mark in German."""
    found: dict[str, str] = {}
    for english, said in table.items():
        for word in said:
            for spelt in (fold(word), fold(word.translate(_SPELT_OUT))):
                found.setdefault(" ".join(spelt.replace("-", " ").split()), english)
    return found


def _exact(tables: Mapping[str, Mapping[str, list[str] | str]]) -> dict[str, str]:
    """The words that are known by themselves and not by their stem, which another meaning shares."""
    held: dict[str, dict[str, str]] = {}
    for concept, phrases in tables["same"].items():
        for word in (concept, *phrases):
            phrase = _phrase(word)
            if len(phrase) == 1:
                held.setdefault(phrase[0], {}).setdefault(fold(word), concept.upper())
    exact: dict[str, str] = {}
    for words in held.values():
        if len(set(words.values())) > 1:
            exact |= words
    return exact | dict.fromkeys(map(fold, tables["apart"].get("words", ())), "")


def _alone(
    table: Mapping[str, list[str] | str], lexicon: Lexicon
) -> dict[tuple[str, ...], str]:
    """What the few words of that table mean when nothing else is said."""
    found = {}
    for meant, short_ways in table.items():
        for short in short_ways:
            found[things_named(tokens(short, lexicon), lexicon)] = meant
    return found


def _phrase(text: str) -> tuple[str, ...]:
    return tuple(
        stem(word) for word in _TOKEN.findall(fold(text)) if word not in _BREAK_SIGNS
    )


def split(folded: str, lexicon: Lexicon) -> list[list[str]]:
    """The clauses of a folded text, each a list of words with contractions written out.

    >>> split("charges, but won't start.", read_lexicon(*common_words()))
    [['charges'], ['but', 'will', 'not', 'start']]
    """
    found: list[list[str]] = [[]]
    for word in _TOKEN.findall(clauses.without_idioms(folded)):
        if word in _BREAK_SIGNS:
            found.append([])
            continue
        for piece in lexicon.short.get(word, word).split():
            if piece in lexicon.breaks and found[-1]:
                found.append([])
            found[-1].append(piece)
    parted = []
    for clause in found:
        if clause:
            parted += clauses.parted(clause, lexicon.marks)
    return parted


def things_named(found: Iterable[Token], lexicon: Lexicon) -> tuple[str, ...]:
    """The things and predicates that a few words name, sorted; not the machine, of which every complaint tells.

    >>> lexicon = replace(read_lexicon(*common_words()), machine="CLOCK")
    >>> things_named(tokens("the clock's button is bad", lexicon), lexicon)
    ('BUTTON', 'bad')
    """
    told = (token for token in found if token.typed not in lexicon.noise)
    return tuple(
        sorted({token.concept or token.stem for token in told} - {lexicon.machine})
    )


def is_negative(clause: Iterable[str], lexicon: Lexicon) -> bool:
    """Whether the clause says that something fails, is missing or does not happen."""
    return any(word in lexicon.negative for word in clause)


def tokens(text: str, lexicon: Lexicon) -> list[Token]:
    """The words of a text with the trade's word for each and the sign of the clause they stand in."""
    return tokens_of_folded(fold(text[:MAX_CHARACTERS]), lexicon)


def tokens_of_folded(folded: str, lexicon: Lexicon) -> list[Token]:
    """The words of a text that is folded already, likewise."""
    found: list[Token] = []
    before: list[Token] = []
    parts = split(folded, lexicon)
    for number, clause in enumerate(parts):
        own = _of_clause(clause, number, lexicon)
        if any(clauses.restricts(after) for after in parts[number + 1 : number + 2]):
            own = [token._replace(well=False) for token in own]
        if clauses.borrows(clause):
            own += _borrowed(before, number, lexicon)
        if len(parts) > 1 and clauses.denies_a_name(
            clause, lexicon.marks, lexicon.verbs
        ):
            own = [token._replace(well=True) for token in own]
        found += own
        before = own
    return found


def _of_clause(clause: Sequence[str], number: int, lexicon: Lexicon) -> list[Token]:
    """The words of one clause."""
    found: list[Token] = []
    negative = is_negative(clause, lexicon)
    well = clauses.sign(clause, lexicon.marks) == clauses.WELL
    told = clauses.before_what_is_indifferent(clause)
    stems = [stem(word) for word in clause]
    position = 0
    while position < len(stems):
        may_begin = stems[position] in lexicon.by_first
        length, concept = (
            _longest_phrase(stems, position, lexicon) if may_begin else (1, "")
        )
        if length == 1:
            concept = lexicon.exact.get(clause[position], concept)
        for offset in range(length):
            at = position + offset
            found.append(
                Token(
                    clause[at],
                    stems[at],
                    concept if offset == 0 else "",
                    negative,
                    number,
                    well,
                )
            )
        position += length
    return found[:told] + [
        token._replace(negative=False, well=True) for token in found[told:]
    ]


def _borrowed(before: Iterable[Token], number: int, lexicon: Lexicon) -> list[Token]:
    """What a clause without a verb ("..., not on battery") takes from the one before it, denied: the last of its verbs.

    Those before may be nouns that look like one ("the glow works, typing does not").

    >>> found = tokens("starts on the button, not on the clock", read_lexicon(*common_words()))
    >>> [(token.concept, token.negative) for token in found if token.concept]
    [('START', False), ('BUTTON', False), ('CLOCK', True), ('START', True)]
    """
    done = [
        token
        for token in before
        if token.concept.casefold() in lexicon.verbs or token.stem in lexicon.verbs
    ]
    return [
        token._replace(negative=True, well=False, clause=number) for token in done[-1:]
    ]


def _longest_phrase(
    stems: list[str], position: int, lexicon: Lexicon
) -> tuple[int, str]:
    for phrase, concept in lexicon.by_first[stems[position]]:
        length = len(phrase)
        if length == 1 or tuple(stems[position : position + length]) == phrase:
            return length, concept
    return 1, ""
