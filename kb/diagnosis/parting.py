"""Parting two neighbours that are close in the words: what is seen of each alone, and the test that tells most."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from operator import itemgetter

from kb.base.ranked import most_first
from kb.diagnosis.answer import Parting
from kb.diagnosis.causes import Candidate, Knowledge, likelihoods_of
from kb.library import gates, states
from kb.model import Entry, Test

#: A neighbour of the first entry that is believed at least so much is close, among so many entries. On open sets the
#: question then names the right sheet in 35 of 62 answers that were sure and wrong, and stands by 29 % of sure ones.
CLOSE, AMONG = 0.001, 3
#: A test that tells the two apart by less (bits, both as likely) is not worth naming.
LEAST_BITS = 0.2
#: How the observations of "See also" begin, which speak of the other sheet.
_THERE = "there "


def parting(
    shares: Mapping[str, float],
    knowledge: Knowledge,
    lacks: Collection[str] = (),
    with_test: bool = True,
) -> Parting | None:
    """What parts the likeliest entry from its closest neighbour; None where no neighbour is close.

    `lacks` are tools that the bench has not; without `with_test` only what is seen is told, as where another test has
    to come first.
    """
    close = [slug for slug in most_first(shares)[:AMONG] if shares[slug] >= CLOSE]
    first, *others = [knowledge.entry(slug) for slug in close] or [None]
    if first is None:
        return None
    for second in filter(None, others):
        if seen := _seen(first, second):
            parted = Parting(
                first=first.slug,
                second=second.slug,
                titles=(first.title, second.title),
                seen=seen,
            )
            best = _best_test(first, second, knowledge, lacks) if with_test else None
            return _with_test(parted, *best) if best else parted
    return None


def _with_test(parted: Parting, entry: Entry, test: Test) -> Parting:
    """The parting with the test of an entry that tells most."""
    return replace(
        parted, test=f"{entry.slug}/{test.slug}", what=test.title, minutes=test.minutes
    )


def _seen(first: Entry, second: Entry) -> tuple[str, str] | None:
    """What is seen of each of two entries and not of the other, if either names the other as a neighbour."""
    of_second = _observation(first, second)
    of_first = _observation(second, first)
    return (of_first, of_second) if of_first or of_second else None


def _observation(here: Entry, other: Entry) -> str:
    """What is seen of the other entry, as this one's "See also" says it; empty if it does not name it."""
    said = next(
        (near.observation for near in here.neighbours if near.slug == other.slug), ""
    )
    return said.removeprefix(_THERE)


def _best_test(
    first: Entry, second: Entry, knowledge: Knowledge, lacks: Collection[str]
) -> tuple[Entry, Test] | None:
    """The test of either entry that tells most about which of the two it is, the shorter one of equals."""
    both = (first, second)
    candidates = [
        [
            Candidate(one.slug, cause, share)
            for cause, share in knowledge.shares(one).items()
        ]
        for one in both
    ]
    found = []
    for entry, test in _tests(both, lacks):
        trusted = knowledge.trusted(entry, test)
        bits = information(
            *(_outcomes(trusted, entry.slug, held) for held in candidates)
        )
        if bits >= LEAST_BITS:
            worth = round(bits, 2) - test.minutes / 1000
            found.append((worth, entry, test))
    best = max(found, key=itemgetter(0), default=None)
    return best[1:] if best else None


def _tests(
    entries: Sequence[Entry], lacks: Collection[str]
) -> Iterator[tuple[Entry, Test]]:
    """The tests that can be done at once: cover on, nothing to wait for, with what the bench has."""
    for entry in entries:
        for test in entry.tests:
            has_what_it_needs = set(test.needs).isdisjoint(
                lacks
            ) and states.can_be_done(test, entry.machine)
            if (
                has_what_it_needs
                and not test.cover_off
                and not gates.waits_for(entry, test, ())
            ):
                yield entry, test


def _outcomes(test: Test, of: str, candidates: Sequence[Candidate]) -> list[float]:
    """P(outcome) of a test under one entry, its causes as likely as they are there."""
    rows = likelihoods_of(test, of, candidates)
    return [
        sum(c.prior * row[place] for c, row in zip(candidates, rows, strict=True))
        for place in range(len(rows[0]))
    ]


def information(first: Sequence[float], second: Sequence[float]) -> float:
    """What an outcome tells, in bits, about which of two equally likely things holds.

    The Jensen-Shannon divergence of the two distributions (Lin 1991, IEEE Trans. Information Theory 37(1)).

    >>> information([1.0, 0.0], [0.0, 1.0]), information([0.5, 0.5], [0.5, 0.5])
    (1.0, 0.0)
    """
    told = 0.0
    for one, other in zip(first, second, strict=True):
        mean = (one + other) / 2.0
        told += sum(
            share * math.log2(share / mean) / 2.0
            for share in (one, other)
            if share > 0.0
        )
    return told
