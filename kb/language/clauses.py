"""Clauses of a text with what each says of its things: that they fail, that they are well, or neither."""

from __future__ import annotations

import itertools
import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

#: What a clause says of its things: that they fail, that they are well, or neither.
FAILS, WELL, UNMARKED = "-", "+", "="

#: Words after which *right* is a side and no judgement, each of three letters so that they can be looked back at.
_SIDED = r"(?:the|and|top|its)"
#: Ways of speaking that are not read word by word, and what is read instead: those that hold a negation and deny
#: nothing of the machine, and verbs with what they act on in between ("turn the light off").
_IDIOMS = (
    (r"(?:whether|if) or not", "regardless"),
    (r"no matter (?:how|what|which|where|if|whether|the)", "always"),
    (r"(is|are|was|does|do|did|it's) not (?:just|only|merely|simply)", r"\1"),
    (r"(?:isn't|isnt|aren't) (?:just|only|merely|simply)", "is"),
    (r"not (?:just|only|merely|simply)", "also"),
    (
        r"((?:turn|switch|power|shut)(?:s|ed|ing)?) (it|this|that|them|(?:the|my|its) \w+) (on|off|down)",
        r"\1 \3 \2",
    ),
    (
        r"(?:no|without any|without) (?:problems?|issues?|faults?|trouble|complaints|difficulty)",
        "fine",
    ),
    (r"nothing (?:is )?wrong with", "fine"),
    (r"not bad", "fine"),
    (r"all right", "fine"),
    (rf"(?<=[a-z] )(?<!{_SIDED} )right(?=\s*(?:[,.;:]|$))", "correct"),
    (r"whole(?=\s*(?:[,.;:]|$))", "intact"),
    (
        r"(stay|stays|stayed|staying|remains?|remained) (?:connected|joined|online|listed)",
        r"\1 connected fine",
    ),
    (
        r"(st[ao]nds?|standing|lies?|lying|sits?|holds?|held|keeps?|kept|lay|sat|stood) still",
        r"\1 motionless",
    ),
    (r"(?<=[a-z] )still(?=\s*(?:[,.;:]|$))", "motionless"),
    (
        r"neither (?:the )?(?:one|left|first)(?: (\w+))? nor (?:the )?(?:other|right|second)(?: (\w+))?",
        r"no \1 \2",
    ),
    (
        r"(?:when|while|if|though|although) (?:it is )?not (?:being )?(touched|pressed|used)",
        r"un\1",
    ),
    (r"packed (?:in|up)(?! (?:a|an|the|my|its|with)\b)", "failed"),
    (r"as well", "too"),
    (r"for good", "always"),
    (r"(?:i have |have |got )?no (?:idea|clue|doubt)(?: why| how| what)?", ""),
    (r"(?:i am |i'm |im )?not sure(?: why| how| what| if)?", ""),
    (
        r"(?:do not|don't|dont|did not|didn't) (?:know|understand|mind|remember)(?: why| how| what| if)?",
        "",
    ),
)
_READ_OTHERWISE = tuple(
    (re.compile(rf"\b(?:{pattern})\b"), instead) for pattern, instead in _IDIOMS
)
#: Stands in every text that holds one of them: most hold none, and are asked once instead of two dozen times.
_ANY_IDIOM = re.compile(rf"\b(?:{'|'.join(pattern for pattern, _ in _IDIOMS)})\b")


#: After it stands what makes no difference.
_REGARDLESS = "regardless"


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


_NEGATORS = frozenset(
    [
        "not",
        "no",
        "never",
        "nothing",
        "none",
        "neither",
        "nor",
        "without",
        "nobody",
        "hardly",
        "barely",
    ]
)
#: Negations that reach to the end of their clause: "neither key works" says of no key that it is well.
_FAR_REACHING = frozenset(["neither", "nor", "none"])
#: Ways to say of a part of what is named, or of some occasions, that all is well: so it is not well elsewhere.
_ONLY, _ONE_OF = "only", ("one", "of")
_PREPOSITIONS = _words(
    "on in with by at from under for through over via after without when while during outside inside off"
)
#: What may stand before a negation that denies a name, and what a name begins with; the longest such clause.
_POINTING, _NAMING, LONGEST_NAME = (
    _words("it is it's its that this and but so"),
    _words("the a an my its his her"),
    6,
)
#: What is not there in the least is not there at all: no name is denied.
_SLIGHTEST = _words(
    "slightest faintest least single sound peep flicker word lamp light thing"
)
_JOINING = frozenset(["but", "and", "or", "yet", "while", "though", "although"])
#: Words that may stand between a negation and what it denies.
_BETWEEN = _words(
    "a an any the very really quite so too that all more even at is be get getting gets go going always fully "
    "completely entirely look looks looking feel feels seem"
)


@dataclass(frozen=True, slots=True)
class Marks:
    """The words by which clauses are told: those that say it fails, those that say it is well, and faults by name."""

    negative: Collection[str]
    positive: Collection[str]
    symptoms: Collection[str]


def without_idioms(folded: str) -> str:
    """A folded text with the ways of speaking that hold a negation and deny nothing read as what they mean.

    >>> without_idioms("flickers whether or not i move the lid"), without_idioms("it is not just slow, it hangs")
    ('flickers regardless i move the lid', 'it is slow, it hangs')
    """
    if _ANY_IDIOM.search(folded) is None:
        return folded
    for pattern, instead in _READ_OTHERWISE:
        folded = pattern.sub(instead, folded)
    return folded


def sign(clause: Sequence[str], marks: Marks) -> str:
    """What a clause says of its things.

    >>> marks = Marks({"not", "no", "dead"}, {"fine", "works"}, {"rattle", "dead"})
    >>> [sign(text.split(), marks) for text in ("fan fine", "not fine", "no rattle", "not dead", "fan rattles", "dead")]
    ['+', '-', '+', '+', '=', '-']
    """
    found = [mark for _, mark in marked(clause, marks)]
    if FAILS in found:
        return FAILS
    return WELL if WELL in found and not _is_of_a_part(clause) else UNMARKED


def _is_of_a_part(clause: Sequence[str]) -> bool:
    """Whether what a clause says holds of a part of what it names, or on some occasions alone.

    >>> [_is_of_a_part(text.split()) for text in ("only works on mains", "one of the keys works", "one key works")]
    [True, True, False]
    """
    return clause[0] == _ONLY or _ONE_OF in itertools.pairwise(clause)


def denies_a_name(clause: Sequence[str], marks: Marks, verbs: Collection[str]) -> bool:
    """Whether a clause only says what the fault is not, by name and without a verb: what it is stands beside it.

    >>> marks = Marks({"not", "dead"}, {"works"}, set())
    >>> told = ("not the whole row", "it is not the drive", "not the battery works", "not a sound comes out")
    >>> [denies_a_name(text.split(), marks, {"come"}) for text in told]
    [True, True, False, False]
    """
    at = 0
    while at < len(clause) and clause[at] in _POINTING:
        at += 1
    if len(clause) - at > LONGEST_NAME or clause[at : at + 1] not in (
        ["not"],
        ["never"],
    ):
        return False
    told = clause[at + 1 :]
    if not told or told[0] not in _NAMING or not _SLIGHTEST.isdisjoint(told):
        return False
    return not any(
        word in marks.positive or word in marks.negative or _is_verb(word, verbs)
        for word in told
    )


def _is_verb(word: str, verbs: Collection[str]) -> bool:
    return any(word in (verb, f"{verb}s", f"{verb}ed", f"{verb}ing") for verb in verbs)


def before_what_is_indifferent(clause: Sequence[str]) -> int:
    """How many words of a clause stand before what it says makes no difference; all of the usual clause.

    >>> before_what_is_indifferent("flickers regardless i move the lid".split())
    2
    """
    return clause.index(_REGARDLESS) + 1 if _REGARDLESS in clause else len(clause)


def restricts(clause: Sequence[str]) -> bool:
    """Whether a clause says on which occasions alone the clause before it holds.

    >>> [restricts(text.split()) for text in ("only on the charger", "only with a monitor", "only the fan is loud")]
    [True, True, False]
    """
    return len(clause) > 1 and clause[0] == _ONLY and clause[1] in _PREPOSITIONS


def marked(clause: Sequence[str], marks: Marks) -> Iterator[tuple[int, str]]:
    """The places in a clause where something is said to fail or to be well, each with what is said."""
    taken, denied, all_denied = -1, False, False
    for at, word in enumerate(clause):
        if at <= taken:
            continue
        if word in _NEGATORS:
            taken, mark = _denied(clause, at, marks)
            denied = denied or mark == FAILS
            all_denied = all_denied or (mark == FAILS and word in _FAR_REACHING)
            yield at, mark
        elif word in marks.negative:
            yield at, FAILS
        elif word in marks.positive:
            is_denied = all_denied or (denied and _is_manner(word))
            if not is_denied and not _is_of_none(clause, at):
                yield at, WELL


def _is_of_none(clause: Sequence[str], at: int) -> bool:
    """Whether what the word at that place says holds of none of the things before it ("no key works").

    >>> [_is_of_none(text.split(), len(text.split()) - 1) for text in ("no key works", "no charge adapter ok")]
    [True, False]
    """
    return at > 1 and clause[at - 2] == "no"


def _is_manner(word: str) -> bool:
    """Whether a word says how something is done, so that a negation anywhere before it takes it away.

    >>> [_is_manner(word) for word in ("firmly", "well", "fine")]
    [True, True, False]
    """
    return word.endswith("ly") or word == "well"


def borrows(clause: Sequence[str]) -> bool:
    """Whether a clause has no verb of its own and lives on that of the clause before.

    >>> [borrows(text.split()) for text in ("but not on the battery", "hdmi does not", "does not charge", "not fine")]
    [True, True, False, False]
    """
    told = [word for word in clause if word not in _JOINING]
    return len(told) > 1 and (
        told[-1] == "not" or (told[0] == "not" and told[1] in _PREPOSITIONS)
    )


def _denied(clause: Sequence[str], at: int, marks: Marks) -> tuple[int, str]:
    """How far a negation reaches, and what it says: that all is well where it denies a fault."""
    place = at + 1
    while place < len(clause) and clause[place] in _BETWEEN:
        place += 1
    if place < len(clause) and clause[place] in marks.symptoms:
        return place, WELL
    while place < len(clause) and clause[place] in marks.positive:
        at, place = place, place + 1
    return at, FAILS


def parted(clause: list[str], marks: Marks) -> list[list[str]]:
    """A clause in which one thing is said to be well and another to fail, in two, where no sign stands between.

    >>> marks = Marks({"not", "no", "dead"}, {"ok", "works"}, set())
    >>> parted("adapter ok no charge".split(), marks), parted("no charge adapter ok".split(), marks)
    ([['adapter', 'ok'], ['no', 'charge']], [['no', 'charge'], ['adapter', 'ok']])
    """
    found = list(marked(clause, marks))
    for (first, one), (second, other) in itertools.pairwise(found):
        if one == other:
            continue
        cut = first + 1 if one == WELL else second - 1
        if first < cut <= second and 0 < cut < len(clause):
            return [clause[:cut], *parted(clause[cut:], marks)]
    return [clause]
