"""The wordings that are the best reasons for an answer."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from kb.index.postings import Posting
from kb.language import terms
from kb.language.words import Lexicon, Token, tokens

#: A wording that shares less than this part of what the complaint tells is no reason to show; of a long story,
#: two things at least and the smaller part.
LEAST_SHARED, LEAST_OF_A_STORY = 0.25, 0.12
#: The same thing under the other sign ("charges" for "will not charge") counts so much of it.
OTHER_SIGN = 0.4
#: Whatever else a wording tells of takes away this part of a usual word: short reasons are read at a glance.
BESIDE_THE_POINT = 0.1
MOST_SHOWN = 3


@dataclass(frozen=True)
class Said:
    """A text with what it tells of: for each of its words the word as folded, the thing it names, and its sign."""

    text: str
    words: tuple[tuple[str, str, str], ...]

    @cached_property
    def things(self) -> Mapping[str, frozenset[str]]:
        """The things the text tells of, with the signs they have in it."""
        found: dict[str, set[str]] = {}
        for _, thing, sign in self.words:
            found.setdefault(thing, set()).add(sign)
        return {thing: frozenset(signs) for thing, signs in found.items()}


def said(text: str, lexicon: Lexicon) -> Said:
    """What a text tells of, in the trade's words.

    >>> from kb.language.words import common_words, read_lexicon
    >>> said("the btn won't click", read_lexicon(*common_words())).words
    (('btn', 'BUTTON', '-'), ('click', 'CLICK', '-'))
    """
    return said_by(text, tokens(text, lexicon), lexicon)


def said_by(text: str, found: Iterable[Token], lexicon: Lexicon) -> Said:
    """What a text tells of whose tokens are known already."""
    told = []
    for token in found:
        thing = terms.thing_of(token, lexicon)
        if thing and token.typed not in lexicon.negative:
            told.append((token.typed, thing, terms.sign_of(token)))
    return Said(text, tuple(told))


def signed_terms(complaint: Said) -> list[str]:
    """The terms to look up for the weights of a complaint's words."""
    return [term for thing in complaint.things for term in terms.signed(thing)]


def weights(complaint: Said, postings: Mapping[str, Posting]) -> dict[str, float]:
    """How telling each thing of a complaint is: 1 for the commonest, rarer ones more.

    1 - log(count of the thing / count of the commonest thing of the complaint).
    """
    totals = {}
    for thing in complaint.things:
        held = [term for term in terms.signed(thing) if term in postings]
        totals[thing] = sum(postings[term].total for term in held)
    most = max(totals.values(), default=0)
    return {
        thing: 1.0 + math.log(most / total) for thing, total in totals.items() if total
    }


def closest(
    complaint: Said, telling: Mapping[str, float], wordings: Iterable[Said]
) -> tuple[Said, ...]:
    """The wordings that share most of what the complaint tells, best first; a little less for what they tell beside.

    Of wordings that differ in capitals alone the first is shown.
    """
    whole = sum(telling.values())
    found: dict[str, tuple[float, Said]] = {}
    for one in wordings:
        told, shared = _shared(complaint, telling, one)
        if shared and told >= (
            least := whole * (LEAST_OF_A_STORY if shared > 1 else LEAST_SHARED)
        ):
            beside = len(one.things.keys() - complaint.things.keys())
            likeness = told / (1.0 + BESIDE_THE_POINT * beside / len(telling))
            if likeness >= least:
                found.setdefault(one.text.casefold(), (-likeness, one))
    best = sorted(found.items(), key=lambda item: (item[1][0], item[0]))
    return tuple(one for _, (_, one) in best[:MOST_SHOWN])


def marked(complaint: Said, wordings: Iterable[Said]) -> tuple[str, ...]:
    """The folded words of those wordings that tell of the same things as the complaint."""
    shared = {
        typed
        for wording in wordings
        for typed, thing, _ in wording.words
        if thing in complaint.things
    }
    return tuple(sorted(shared))


def _shared(
    complaint: Said, telling: Mapping[str, float], wording: Said
) -> tuple[float, int]:
    """What the wording tells of what the complaint tells, and in how many things."""
    told, shared = 0.0, 0
    for thing, weight in telling.items():
        if signs := wording.things.get(thing):
            told += weight * (
                OTHER_SIGN if signs.isdisjoint(complaint.things[thing]) else 1.0
            )
            shared += 1
    return told, shared
