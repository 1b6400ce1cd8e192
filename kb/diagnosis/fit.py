"""How well typed words fit each entry: log P(words | entry) against P(words), and against what chance reaches."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from heapq import nlargest
from typing import Protocol

from kb.diagnosis import against, contrast
from kb.diagnosis.noise import by_chance, standing_out
from kb.diagnosis.twofold import twofold
from kb.index.postings import Masses, Posting
from kb.language import terms
from kb.language.reading import Alternative, Reading, SpellingVocabulary, read
from kb.language.terms import VIEWS, is_trade_word
from kb.language.words import Lexicon

#: How much the evidence of each view counts: words as they stand and signed things alike, pairs half.
VIEW_WEIGHT: Mapping[str, float] = {"w": 1.0, "s": 1.0, "b": 0.5}
#: A thing for which the trade has no word of its own is its stem, which the words as they stand hold already: said
#: once, it would count twice. Over six measuring sets of complaints nobody had read it gained .3 to 1.8 points.
PLAIN_THING = 0.75
#: Dirichlet smoothing: the whole library's use of a word counts like this share of a usual entry's own text.
SMOOTHING = 0.5
#: A rare word may belong to the story, not to the fault: none is taken to be rarer than this share of all words.
#: Both constants were chosen by leaving one wording out over the library.
RAREST = 1 / 25_000
#: Words lean on each other: how far a text tells entries apart grows more slowly than the number of things it names.
#: From so many things on it counts less than the sum of their evidence, below it more; the fit of the best entry
#: stays. Chosen by leaving one wording out and on simulated jobs, for beliefs that mean what they say.
USUAL_THINGS, LEANING = 4.5, 0.25
#: A usual entry is the mean of so many fullest ones: thousands of short entries would else be trusted in every word,
#: and what one of them says by chance would count more than what an entry of a hundred wordings says three times.
FULLEST = 100
#: In a library of more entries than this, only so many are looked at in full: those that hold the rarer words.
#: A search shows a dozen; this many leave the common words room to turn the order. With 4,000 made-up entries the
#: first three were the same as with twice as many, for all of 120 complaints.
LOOKED_AT = 200
#: So many of the likeliest entries are looked at for two faults at once, in texts of so many words at least.
LIKELY, LEAST_WORDS_OF_TWO = 16, 6
#: Of two faults at once the one that fits less well counts so much less, in nats, than the other.
BESIDE = 3.0
#: What a clause that an entry states to speak against it takes off its score, beside all that the clause told for it.
#: Chosen on complaints with a healthy clause of another entry put to them, voices-a and the open pairs.
AGAINST = 2.0
#: What few words mean when nothing else is said was not said: it tells entries apart by so much of what it would. So
#: does one word said again and again, which is mostly a try of the keys.
MEANT = 0.44
#: Words after which a thing of another subject is a likeness ("roars like a kettle"), so many words on at most.
LIKE, LIKE_REACH = frozenset(("like", "as", "than")), 4
#: What a word counts in a clause that says something is well: it speaks of what the fault is not.
HEALTHY = 0.4
#: A word said again counts so much of it: whoever types "test test" tells of one thing.
AGAIN = 0.15
#: What a bare number counts: it may be a percentage, a key or a size, and a row of them is no complaint.
NUMBER = 0.75
#: Postings are gone through from the rarest on until so many counts were read: some milliseconds.
MOST_READ = 8_000


#: What an entry, by its number, states that speaks against it.
Stated = Callable[[int], Sequence[against.Statement]]


class Library(SpellingVocabulary, Protocol):
    """What the search asks of the indexed library; entries go by number."""

    def postings(self, terms: Iterable[str]) -> Mapping[str, Posting]:
        """The postings of those terms that the library holds."""

    def masses(self, view: str) -> Masses:
        """For every entry its summed counts in one view."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How words fit, by entry number; how they were read, and how many said anything.

    `scores` are log P(words | entry) / P(words), less what a text of that length reaches by chance. `others` is
    the number of entries that were not looked at, as none of the rarer words stand in them. `two` are the entries of
    a text that tells of two faults at once, empty for the usual one; `against` holds what the text says that speaks
    against an entry, in the words of its section "Not this if".
    """

    reading: Reading
    scores: Mapping[int, float]
    known_words: int
    others: int = 0
    two: tuple[int, ...] = ()
    against: Mapping[int, tuple[str, ...]] = field(default_factory=dict)


class _OnceAsked(dict[int, float]):
    """Numbers by entry, each worked out when it is asked for and then kept: of a large library few ever are."""

    def __init__(self, worked_out: Callable[[int], float]) -> None:
        super().__init__()
        self._worked_out = worked_out

    def __missing__(self, entry: int) -> float:
        """The number of an entry that was not asked for before."""
        found = self[entry] = self._worked_out(entry)
        return found


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """One view of the library: its smoothing (μ) in tenths, and of each entry's text the smoothing's share.

    The share is μ / (mass + μ); its logarithm is what a known word tells of an entry that does not hold it.
    """

    name: str
    weight: float
    entries: Collection[int]
    total: int
    mu: float
    shares: Mapping[int, float]
    floors: Mapping[int, float]


@dataclass(frozen=True, slots=True)
class _Evidence:
    """One word in one view: its weight, the share of its readings that is known, and what a count of theirs tells.

    `clause` is the number of the clause in which it stands.
    """

    view: _View
    clause: int
    weight: float
    known: float
    held: tuple[tuple[Posting, float], ...]

    @property
    def size(self) -> int:
        """How many counts its postings hold."""
        return sum(len(posting.entries) for posting, _ in self.held)

    def gains(self) -> Iterable[tuple[int, float]]:
        """Every entry that holds the word, with what it tells of it."""
        if len(self.held) == 1:  # the usual word, in half the time
            [(posting, each)] = self.held
            return zip(posting.entries, map(each.__mul__, posting.counts), strict=True)
        told: dict[int, float] = defaultdict(float)
        for posting, each in self.held:
            for entry, count in zip(posting.entries, posting.counts, strict=True):
                told[entry] += each * count
        return told.items()

    def gains_of(self, entries: Collection[int]) -> Iterable[tuple[int, float]]:
        """Those of some entries that hold the word, with what it tells of them."""
        told: dict[int, float] = defaultdict(float)
        for posting, each in self.held:
            for entry, count in posting.counts_of(entries).items():
                told[entry] += each * count
        return told.items()


@dataclass(frozen=True, slots=True)
class _Asked:
    """A reading beside the library: the signed things it names, the postings of its terms, and its evidence."""

    things: Sequence[str]
    well: Sequence[str]
    postings: Mapping[str, Posting]
    views: Sequence[_View]
    evidence: Sequence[_Evidence]

    @property
    def entries(self) -> Collection[int]:
        """The numbers of all entries."""
        return self.views[0].entries

    @property
    def named_things(self) -> int:
        """How many of its words name a thing that the library knows."""
        return sum(1 for one in self.evidence if one.view.name == "s")


def fit(
    text: str,
    lexicon: Lexicon,
    library: Library,
    unfinished: bool = False,
    also: Collection[int] = (),
    *,
    stated: Stated = lambda entry: (),
) -> Fit:
    """How the typed text fits the entries of the library; `also` names entries to look at in any case.

    Each view is a unigram model smoothed with the whole library's (Dirichlet smoothing: Zhai & Lafferty
    2004, ACM TOIS 22(2), from memory): log Π (c(t,e) + μ b(t)) / ((N_e + μ) b(t)), b(t) the share of t in
    the library. An unknown word is the mixture of its readings. Contrasts (`kb.diagnosis.contrast`) are added,
    and what a text of that length reaches by chance (`kb.diagnosis.noise`) is taken off: 0 means that it may be no
    more than that.
    """
    reading = read(text, lexicon, library, unfinished)
    asked = _asked(reading, library, lexicon)
    scores = _by_words(asked, also)
    _add_contrasts(scores, asked)
    said = MEANT if reading.meant or _is_one_word_again(text) else 1.0
    leaning = _leaning(scores, asked.named_things, said)
    known = {ways: _known(ways, asked.postings) for ways in reading.words}
    unknown = len(known) - sum(known.values())
    chance = by_chance(len(known), unknown, _elsewhere(reading, lexicon))
    chance -= standing_out(leaning.values())
    above = {entry: score - chance for entry, score in leaning.items()}
    likely = nlargest(LIKELY, sorted(scores), key=scores.__getitem__)
    denials = _denials(likely, reading, lexicon, stated)
    denied, two = _by_clauses(asked, reading, likely, denials)
    _bring_beside(above, denied, two)
    return Fit(
        reading=reading,
        scores=above,
        known_words=sum(map(bool, known.values())),
        others=len(asked.entries) - len(scores),
        two=two,
        against={entry: told.texts for entry, told in denied.items()},
    )


def _add_contrasts(scores: dict[int, float], asked: _Asked) -> None:
    """Add what signs and healthy things tell of each entry beside the others."""
    signs = contrast.gains(asked.things, asked.postings, scores)
    for entry, gain in signs.items():
        scores[entry] += gain
    well = contrast.gains_by_the_well(asked.well, asked.postings, scores)
    for entry, gain in well.items():
        scores[entry] += gain


def _is_one_word_again(text: str) -> bool:
    """Whether a text is one word, said more than once."""
    typed = text.casefold().split()
    return len(set(typed)) == 1 < len(typed)


def _bring_beside(
    scores: dict[int, float], denied: Mapping[int, _Against], two: tuple[int, ...]
) -> None:
    """Take off what speaks against an entry, and bring both of two faults near to the best."""
    for entry, told in denied.items():
        scores[entry] -= told.worth
    best = max(scores.values(), default=0.0)
    for entry in two:
        scores[entry] = max(scores[entry], best - BESIDE)


#: What each clause of a text, by its number, tells of each of the likeliest entries.
_Clauses = Mapping[int, dict[int, float]]


def _clauses(asked: _Asked, reading: Reading, likely: Sequence[int]) -> _Clauses:
    """What each clause tells of each of the likeliest entries."""
    by_clause: dict[int, list[_Evidence]] = {
        token.clause: [] for token in reading.tokens
    }
    for one in asked.evidence:
        by_clause[one.clause].append(one)
    clauses = {}
    for number, evidence in by_clause.items():
        told = dict.fromkeys(likely, 0.0)
        for one in evidence:
            _add(told, one, one.gains_of(told))
        _add_floors(told, evidence)
        clauses[number] = told
    return clauses


def _may_be_two(reading: Reading) -> bool:
    """Whether a text is long enough to tell of two faults, in clauses that do not say that all is well."""
    failing = {token.clause for token in reading.tokens if not token.well}
    return (
        len(reading.tokens) >= LEAST_WORDS_OF_TWO
        and len(failing) > 1
        and not reading.meant
    )


def _two(clauses: _Clauses, reading: Reading) -> tuple[int, ...]:
    """The two entries of a text that tells of two faults, each in clauses of its own; empty for the usual text."""
    if not _may_be_two(reading):
        return ()
    well = {token.clause for token in reading.tokens if token.well}
    failing = sorted(clauses.keys() - well)
    found = twofold([clauses[number] for number in failing])
    return (found.first, found.second) if found else ()


@dataclass(frozen=True, slots=True)
class _Against:
    """What speaks against an entry: the statements, and what they take off its score."""

    texts: tuple[str, ...]
    worth: float


#: By entry and clause, by their numbers, what the clause says that speaks against the entry.
_Denials = Mapping[int, Mapping[int, tuple[str, ...]]]


def _denials(
    likely: Sequence[int], reading: Reading, lexicon: Lexicon, stated: Stated
) -> _Denials:
    """Which clauses speak against which of the likeliest entries."""
    found: dict[int, dict[int, tuple[str, ...]]] = {}
    holding = against.clauses_of(reading.tokens, lexicon)
    for entry in likely:
        statements = stated(entry)
        for number, holds in holding.items():
            if said := against.spoken_against(holds, statements):
                found.setdefault(entry, {})[number] = said
    return found


def _by_clauses(
    asked: _Asked, reading: Reading, likely: Sequence[int], denials: _Denials
) -> tuple[Mapping[int, _Against], tuple[int, ...]]:
    """What clauses tell by themselves: what speaks against entries, and the two of a text with two faults."""
    if not denials and not _may_be_two(reading):
        return {}, ()
    clauses = _clauses(asked, reading, likely)
    denied = _against(denials, clauses)
    return denied, _two(clauses, reading)


def _against(denials: _Denials, clauses: _Clauses) -> Mapping[int, _Against]:
    """What speaks against each entry; what such a clause told for it is taken from `clauses`."""
    found: dict[int, _Against] = {}
    for entry, saying in denials.items():
        worth = 0.0
        for number in saying:
            worth += AGAINST + max(clauses[number][entry], 0.0)
            clauses[number][entry] = -AGAINST
        texts = dict.fromkeys(text for said in saying.values() for text in said)
        found[entry] = _Against(tuple(texts), worth)
    return found


def _elsewhere(reading: Reading, lexicon: Lexicon) -> int:
    """How many things of other subjects a text names, but for those that it likens something to."""
    typed = [token.typed for token in reading.tokens]
    named = set()
    for at, word in enumerate(typed):
        if word not in lexicon.elsewhere:
            continue
        before = typed[max(0, at - LIKE_REACH) : at]
        if LIKE.isdisjoint(before):
            named.add(word)
    first = _first_thing(reading, lexicon)
    if first in lexicon.beside:
        named.add(first)
    return len(named) + _asks_for_a_service(reading, lexicon)


def _asks_for_a_service(reading: Reading, lexicon: Lexicon) -> bool:
    """Whether a text begins or ends like a request, and nothing in it is said to fail or to be amiss."""
    for token in reading.tokens:
        if token.typed in lexicon.negative or token.typed in lexicon.symptoms:
            return False
    said = reading.corrected.strip(" .!?")
    if said.endswith(" please"):
        return True
    return any(said.startswith(f"{begun} ") for begun in lexicon.asking)


def _first_thing(reading: Reading, lexicon: Lexicon) -> str:
    """The first word of a text that tells of anything: what it is about; empty if none does."""
    return next(
        (token.typed for token in reading.tokens if terms.thing_of(token, lexicon)), ""
    )


def _asked(reading: Reading, library: Library, lexicon: Lexicon) -> _Asked:
    """What the library holds of the terms of a reading."""
    likeliest = _terms(ways[:1] for ways in reading.words)
    things = [term for term in likeliest if term[0] == "s"]
    well_machine = terms.well(lexicon.machine)
    well = [term[2:] for term in likeliest if term[0] == "h" and term != well_machine]
    wanted = _terms(reading.words)
    postings = library.postings(
        wanted + contrast.asked(things) + contrast.asked_of_the_well(well)
    )
    views = [_view(name, library.masses(name)) for name in VIEWS]
    shares = _shares(reading.words)
    evidence = []
    for view in views:
        for token, ways, share in zip(
            reading.tokens, reading.words, shares, strict=True
        ):
            if one := _evidence(ways, view, postings, share, token.clause):
                evidence.append(one)
    return _Asked(things, well, postings, views, evidence)


def _terms(words: Iterable[Sequence[Alternative]]) -> list[str]:
    """The terms of those readings of words."""
    return [term for ways in words for way in ways for term in way.terms]


def _by_words(asked: _Asked, also: Collection[int]) -> dict[int, float]:
    """The log-likelihood ratio of the words for each entry that is looked at: all, or those with the rarer words."""
    rare, common = _parted(asked.evidence, len(asked.entries))
    gained: dict[int, float] = defaultdict(float)
    for one in rare:
        _add(gained, one, one.gains())
    looked_at = _looked_at(asked.entries, gained, also)
    for one in common:
        _add(gained, one, one.gains_of(looked_at))
    scores = {entry: gained.get(entry, 0.0) for entry in looked_at}
    _add_floors(scores, asked.evidence)
    return scores


def _looked_at(
    entries: Collection[int], gained: Mapping[int, float], also: Collection[int]
) -> Collection[int]:
    """The entries to look at in full: all of a small library, the best so far of a large one."""
    if len(entries) <= LOOKED_AT:
        return entries
    best = nlargest(LOOKED_AT, sorted(gained), key=gained.__getitem__)
    return {*best, *(entry for entry in also if entry in entries)}


def _leaning(
    scores: Mapping[int, float], things: int, said: float = 1.0
) -> dict[int, float]:
    """The scores of a text that names so many things, its evidence between entries counted for what it is worth.

    `said` is the part of it that counts because somebody said it.

    >>> _leaning({1: 10.0, 2: 6.0}, 72), _leaning({1: 10.0, 2: 6.0}, 0)
    ({1: 10.0, 2: 8.0}, {1: 10.0, 2: 4.174...})
    """
    best = max(scores.values(), default=0.0)
    worth = said * (USUAL_THINGS / max(things, 1)) ** LEANING
    return {entry: best + worth * (score - best) for entry, score in scores.items()}


# of two libraries, or of one before and after a save
@lru_cache(maxsize=2 * len(VIEWS))
def _view(name: str, masses: Masses) -> _View:
    fullest = nlargest(FULLEST, masses.of.values())
    mu = SMOOTHING * sum(fullest) / max(len(fullest), 1)
    shares = _OnceAsked(lambda entry: mu / (masses.of[entry] + mu))
    return _View(
        name=name,
        weight=VIEW_WEIGHT[name],
        entries=masses.of.keys(),
        total=sum(masses.of.values()) or 1,
        mu=mu,
        shares=shares,
        floors=_OnceAsked(lambda entry: math.log(shares[entry])),
    )


def _shares(words: Sequence[Sequence[Alternative]]) -> list[float]:
    """What each word counts as evidence: less when it was said before, is a bare number, or tells of what is well.

    What was said to be well before and is not now is news: it speaks of another one, or of another moment.
    """
    was_well: dict[str, bool] = {}
    shares = []
    for ways in words:
        terms = ways[0].terms if ways else ()
        name = terms[0] if terms else ""
        well = any(term[0] == "h" for term in terms)
        is_news = name not in was_well or (was_well[name] and not well)
        share = 1.0 if is_news else AGAIN
        share *= NUMBER if name[2:].isdigit() else 1.0
        share *= HEALTHY if well else 1.0
        was_well[name] = was_well.get(name, True) and well
        shares.append(share)
    return shares


def _evidence(
    ways: Sequence[Alternative],
    view: _View,
    postings: Mapping[str, Posting],
    share: float,
    clause: int,
) -> _Evidence | None:
    """What one word with its readings tells in one view, `share` of which counts; None if the library knows none."""
    known = 0.0
    found = []
    for way in ways:
        held = [
            postings[term]
            for term in way.terms
            if term[0] == view.name and term in postings
        ]
        known += way.share if held else 0.0
        for posting in held:
            usual = view.mu * (posting.total / view.total + RAREST)
            found.append((posting, way.share / len(held) / usual))
    if not found:
        return None
    weight = view.weight * (
        PLAIN_THING if view.name == "s" and _is_plain(ways) else 1.0
    )
    return _Evidence(
        view, clause, weight * share, min(round(known, 6), 1.0), tuple(found)
    )


def _known(ways: Sequence[Alternative], postings: Mapping[str, Posting]) -> float:
    """The share of a word's readings that the library holds."""
    return sum(way.share for way in ways if any(term in postings for term in way.terms))


def _is_plain(ways: Sequence[Alternative]) -> bool:
    """Whether a word, as it is most likely read, names a thing for which the trade has no word of its own."""
    return any(
        term[0] == "s" and not is_trade_word(term)
        for way in ways[:1]
        for term in way.terms
    )


def _parted(
    evidence: Sequence[_Evidence], entries: int
) -> tuple[list[_Evidence], list[_Evidence]]:
    """The rarer words, to be gone through, and the common ones, to be looked up; a small library is gone through."""
    if entries <= LOOKED_AT:
        return list(evidence), []
    ordered = sorted(evidence, key=lambda one: one.size)
    read = 0
    for place, one in enumerate(ordered):
        read += one.size
        if place and read > MOST_READ:
            return ordered[:place], ordered[place:]
    return ordered, []


def _add(
    gained: dict[int, float], one: _Evidence, gains: Iterable[tuple[int, float]]
) -> None:
    """Add what one word tells of the entries that hold it, over what it tells of all others."""
    weight, known = one.weight, one.known
    if known == 1.0:  # the smoothing's share cancels
        for entry, gain in gains:
            gained[entry] += weight * math.log1p(gain)
        return
    for entry, gain in gains:
        share = one.view.shares[entry]
        gained[entry] += weight * math.log1p(
            share * gain / (1.0 - known + share * known)
        )


def _add_floors(scores: dict[int, float], evidence: Iterable[_Evidence]) -> None:
    """Add what words tell of an entry that holds none of them."""
    certain: dict[_View, float] = defaultdict(float)
    unsure = []
    for one in evidence:
        if one.known == 1.0:
            certain[one.view] += one.weight
        else:
            unsure.append(one)
    for view, weight in certain.items():
        floors = view.floors
        for entry in scores:
            scores[entry] += weight * floors[entry]
    for one in unsure:
        shares = one.view.shares
        for entry in scores:
            scores[entry] += one.weight * math.log(
                1.0 - one.known + shares[entry] * one.known
            )
