"""Contrast: what a text tells that says of one thing that it works and of another that it does not."""

from __future__ import annotations

import math
from array import array
from collections import Counter
from collections.abc import Collection, Iterable, Mapping

from kb.index.postings import Posting
from kb.language.terms import signed, well

#: How much the evidence of signs counts beside that of words: they lean on each other, so that half is enough.
SIGNS_TRUST = 0.5
#: The same for things that are said to be well. On open pairs and hard contrasts it gained half a point; at 1 no more,
#: and complaints of other kinds began to lose by it.
WELL_TRUST = 0.75
#: The library's use of a thing's signs counts like so many tenths of an entry's own text: five of its wordings.
SMOOTHING = 50.0
#: The same for a thing that the library hardly names: as if half a wording more had each sign.
RARE = 5.0
#: The posting of a term that stands in no entry.
NOWHERE = Posting(0, array("I"), array("I"))


def asked(things: Collection[str]) -> list[str]:
    """The terms to look up for signed things: both signs of each, none for a text that holds one sign alone.

    >>> asked(["s:CHARGE+", "s:START-"])
    ['s:CHARGE+', 's:CHARGE-', 's:START+', 's:START-']
    >>> asked(["s:START-", "s:SCREEN-"])
    []
    """
    if len({thing[-1] for thing in things}) < 2:
        return []
    return [term for thing in things for term in signed(thing[2:-1])]


def gains(
    things: Collection[str], postings: Mapping[str, Posting], entries: Iterable[int]
) -> Mapping[int, float]:
    """What the signs of a text's things tell of each entry, where the text holds both signs; else nothing.

    Σ log P(sign | thing, entry) / P(sign | thing), the entry's share smoothed with the library's. A thing that
    works is so evidence against the entries in which it fails, and the other way round; an entry that does not
    name the thing is left as it is. Of a text with one sign alone this told nothing new in cross-validation.
    """
    if not asked(things):
        return {}
    told = dict.fromkeys(entries, 0.0)
    for thing in sorted(set(things)):
        same = postings.get(thing, NOWHERE)
        other = next(
            postings.get(term, NOWHERE) for term in signed(thing[2:-1]) if term != thing
        )
        usual = (same.total + RARE) / (same.total + other.total + 2.0 * RARE)
        with_it, against = same.counts_of(told), other.counts_of(told)
        for entry in with_it.keys() | against.keys():
            told[entry] += SIGNS_TRUST * sign_evidence(
                with_it.get(entry, 0), against.get(entry, 0), usual
            )
    return told


def asked_of_the_well(things: Collection[str]) -> list[str]:
    """The terms to look up for things that are said to be well: those things as well, and under both signs.

    >>> asked_of_the_well(["FAN"])
    ['h:FAN', 's:FAN+', 's:FAN-']
    """
    return [term for thing in things for term in (well(thing), *signed(thing))]


def gains_by_the_well(
    things: Collection[str], postings: Mapping[str, Posting], entries: Iterable[int]
) -> Mapping[int, float]:
    """What things that are said to be well tell of each entry: where they mostly are not well it is not that.

    Σ log P(well | thing, entry) / P(well | thing), smoothed like the signs.
    """
    told = dict.fromkeys(entries, 0.0)
    for thing in sorted(set(things)):
        sound = postings.get(well(thing), NOWHERE)
        either = [postings.get(term, NOWHERE) for term in signed(thing)]
        whole = sum(posting.total for posting in either)
        usual = min((sound.total + RARE) / (whole + 2.0 * RARE), 0.9)
        named: Counter[int] = Counter()
        for posting in either:
            named.update(posting.counts_of(told))
        here = sound.counts_of(told)
        for entry, times in named.items():
            well_here = here.get(entry, 0)
            told[entry] += WELL_TRUST * sign_evidence(
                well_here, max(times - well_here, 0), usual
            )
    return told


def sign_evidence(same: float, other: float, usual: float) -> float:
    """Log P(sign | thing, entry) / P(sign | thing) from the tenths under that sign and the other, smoothed.

    >>> round(sign_evidence(0.0, 100.0, 0.5), 4), round(sign_evidence(50.0, 50.0, 0.5), 4)
    (-1.0986, 0.0)
    """
    return math.log((same + SMOOTHING * usual) / ((same + other + SMOOTHING) * usual))
