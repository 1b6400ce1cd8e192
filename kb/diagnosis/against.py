"""What speaks against an entry: clauses of a complaint that say what its section "Not this if" says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from kb.language import terms
from kb.language.words import Lexicon, Token, tokens

#: Looser likeness takes complaints for statements: "the battery lasts" of a pack that lasts for half an hour (with half
#: the things shared voices-a lost a point and every third hard contrast three).
#: A clause makes a statement if it names so many of its things at least, so much of it, under the same signs, and is
#: not mostly of something else.
LEAST_SHARED, SHARE_OF_STATEMENT, SHARE_OF_CLAUSE = 2, 0.99, 0.8


#: All ways to say that a thing is well are one: "the memory test passes", "memory test clean".
WELL = "WELL"


@dataclass(frozen=True, slots=True)
class Statement:
    """A text with the things it tells of, each with whether it holds (False: it is said to fail)."""

    text: str
    holds: Mapping[str, bool]


def statement(text: str, lexicon: Lexicon) -> Statement:
    """What a text states of its things.

    >>> from kb.language.words import common_words, read_lexicon
    >>> dict(statement("the light blinks", read_lexicon(*common_words())).holds)
    {'LIGHT': True, 'BLINK': True}
    """
    return Statement(text, _holds(tokens(text, lexicon), lexicon))


def clauses_of(
    found: Iterable[Token], lexicon: Lexicon
) -> Mapping[int, Mapping[str, bool]]:
    """What each clause of a complaint states of its things, by the clause's number."""
    by_clause: dict[int, list[Token]] = {}
    for token in found:
        by_clause.setdefault(token.clause, []).append(token)
    return {number: _holds(held, lexicon) for number, held in by_clause.items()}


def spoken_against(
    clause: Mapping[str, bool], statements: Iterable[Statement]
) -> tuple[str, ...]:
    """Those statements that a clause makes too.

    >>> turns = Statement("the fan turns", {"FAN": True, "SPIN": True})
    >>> spoken_against({"FAN": True, "SPIN": True}, [turns])
    ('the fan turns',)
    >>> spoken_against({"FAN": False, "SPIN": False}, [turns]), spoken_against({"FAN": True}, [turns])
    ((), ())
    """
    return tuple(one.text for one in statements if _makes(clause, one.holds))


def _makes(clause: Mapping[str, bool], stated: Mapping[str, bool]) -> bool:
    """Whether a clause makes a statement."""
    shared = clause.keys() & stated.keys()
    if any(clause[thing] != stated[thing] for thing in shared):
        return False
    enough = len(shared) >= SHARE_OF_STATEMENT * len(stated) and len(
        shared
    ) >= SHARE_OF_CLAUSE * len(clause)
    return enough and len(shared) >= LEAST_SHARED


def _holds(found: Iterable[Token], lexicon: Lexicon) -> Mapping[str, bool]:
    holds = {}
    for token in found:
        thing = terms.thing_of(token, lexicon)
        if thing and token.typed not in lexicon.negative:
            thing = WELL if token.typed in lexicon.positive else thing
            holds[thing] = token.well or not token.negative
    return holds
