"""What is urgent: the deeds of the sheets that are likely, or whose danger the words name, before any test."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence, Set

from kb.base.ranked import most_first
from kb.language.words import Lexicon, Token, tokens
from kb.model import EntryOf

#: A sheet that holds so much of the belief is listened to whatever the words say; the deeds of so many are shown.
LEAST_SHARE, MOST_SHEETS = 0.1, 3
#: Words that say of what follows that it is not so, and those that may stand between: "no sign of any smoke".
_DENIALS = frozenset(("no", "not", "never", "nothing", "nor", "neither", "without"))
_BETWEEN = frozenset(
    (
        "a",
        "an",
        "any",
        "the",
        "more",
        "longer",
        "sign",
        "signs",
        "trace",
        "hint",
        "of",
        "visible",
        "or",
        "is",
        "was",
    )
)

#: The stems of each word or phrase that names a danger.
Phrases = tuple[frozenset[str], ...]


def phrases(words: Iterable[str], lexicon: Lexicon) -> Phrases:
    """The stems of words that name a danger."""
    return tuple(
        frozenset(token.stem for token in tokens(word, lexicon)) for word in words
    )


def named(found: Sequence[Token], dangers: Mapping[str, Phrases]) -> frozenset[str]:
    """The sheets of whose danger the tokens of a text speak: all stems of a phrase in one clause, and not denied there.

    A clause about something else may well be negative: "will not start and smokes".

    >>> from kb.language.words import common_words, read_lexicon
    >>> lexicon = read_lexicon(*common_words())
    >>> dangers = {"burnt": phrases(["smoke", "burning smell"], lexicon)}
    >>> said = ("won't start, smoked", "a smell of burning", "no smoke")
    >>> [bool(named(tokens(text, lexicon), dangers)) for text in said]
    [True, True, False]
    """
    single = [
        phrase for held in dangers.values() for phrase in held if len(phrase) == 1
    ]
    between = frozenset[str]().union(*single)
    clauses: dict[int, dict[str, int]] = {}
    for at, token in enumerate(found):
        if not _denied(found, at, between):
            clauses.setdefault(token.clause, {})[token.stem] = at
    told = [stems.keys() for stems in clauses.values()]
    return frozenset(slug for slug, held in dangers.items() if _speaks_of(told, held))


def _speaks_of(told: Iterable[Set[str]], dangers: Phrases) -> bool:
    """Whether one of the clauses holds all stems of a phrase that names a danger."""
    named_ones = list(filter(None, dangers))
    return any(phrase <= stems for stems in told for phrase in named_ones)


def deeds(
    shares: Mapping[str, float], speaks_of: Collection[str], entry_of: EntryOf
) -> tuple[str, ...]:
    """What to do at once, each deed once: first of the sheets whose danger the words name, then of the likeliest.

    `shares` is the belief in each entry, `speaks_of` the entries whose danger the words name: where sparks are told of,
    cutting the mains comes before bagging what smells, however likely the smell.
    """
    likely = {slug for slug, share in shares.items() if share >= LEAST_SHARE}
    entries = list(filter(None, map(entry_of, likely.union(speaks_of))))
    urgent = {entry.slug: entry.deeds for entry in entries if entry.deeds}
    ranked = most_first({slug: shares.get(slug, 0.0) for slug in urgent})
    chosen = sorted(ranked, key=lambda slug: slug not in speaks_of)[:MOST_SHEETS]
    return tuple(dict.fromkeys(deed for slug in chosen for deed in urgent[slug]))


def _denied(found: Sequence[Token], at: int, between: Collection[str]) -> bool:
    """Whether a word is said not to be so: only words of danger and small ones stand between it and the denial."""
    for token, after in zip(
        reversed(found[:at]), reversed(found[: at + 1]), strict=False
    ):
        if token.clause != after.clause and after.typed not in ("or", "nor"):
            return False
        if token.typed in _DENIALS:
            return True
        if token.typed not in _BETWEEN and token.stem not in between:
            return False
    return False
