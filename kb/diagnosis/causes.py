"""From words, model, history and test outcomes to the belief in every cause."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from heapq import nlargest
from typing import NamedTuple, Protocol

from kb.diagnosis import belief
from kb.library.outcomes import outcome_probabilities
from kb.model import SOMETHING_ELSE, WEIGHT_ODDS, Cause, CauseBelief, Entry, EntryBelief, Finding, Test

#: How far the words' log-likelihood is believed: words of a text are not independent, so that it overstates.
#: Chosen by cross-validation (tests/benchmarks/search.py --calibrate).
WORDS_TRUST = 0.55
#: Entries less believed than this share of the best are not looked at further.
NEGLIGIBLE = 1e-4
#: The few likeliest entries together must be believed so many times as much as something else to be said to fit:
#: "black screen" may be one of five, none of which is believed more than something else. Of 359 lines on other
#: subjects 36 pass so, of 1,320 complaints 14 are refused, of 64 short ones 7 (of 35 of them the likeliest entry
#: alone, asked for twice as much as something else, refused 24).
FEW, CLEARLY = 5, 3.0


@dataclass(frozen=True, slots=True)
class Counts:
    """Confirmed jobs by name, on the model at hand and on all others, as they weigh in the belief.

    Where some jobs weigh less, `whole` holds the same jobs as they were counted: that is what people are shown.
    """

    here: Mapping[str, float] = field(default_factory=dict)
    elsewhere: Mapping[str, float] = field(default_factory=dict)
    whole: Counts | None = None

    @property
    def told(self) -> Counts:
        """Whole jobs, to be shown."""
        return self if self.whole is None else self.whole


class Knowledge(Protocol):
    """What a diagnosis asks of whoever knows the entries and the shop's history."""

    @property
    def counts(self) -> Counts:
        """Confirmed jobs by entry, on the model at hand and on all others."""

    def entry(self, slug: str) -> Entry | None:
        """The entry of that slug, or None."""

    def shares(self, entry: Entry) -> Mapping[str, float]:
        """The share of each cause of an entry on the model, and of something it does not list."""

    def trusted(self, entry: Entry, test: Test) -> Test:
        """The test with the reliability that its past outcomes taught."""


class Candidate(NamedTuple):
    """A cause that may be it: its entry, its full name and the belief in it before any test."""

    entry: str
    cause: str
    prior: float

    @property
    def name(self) -> str:
        """`entry/cause`; the unlisted cause of an entry has the name something-else."""
        return f"{self.entry}/{self.cause}"


@dataclass(frozen=True)
class Diagnosis:
    """The belief over all candidates, before and after the findings."""

    candidates: tuple[Candidate, ...]
    posterior: Mapping[str, float]
    fits: Mapping[str, float]

    @cached_property
    def by_entry(self) -> Mapping[str, float]:
        """The belief in the listed causes of each entry."""
        shares: dict[str, float] = defaultdict(float)
        for candidate in self.candidates:
            if candidate.cause != SOMETHING_ELSE:
                shares[candidate.entry] += self.posterior[candidate.name]
        return dict(shares)

    @cached_property
    def something_else(self) -> float:
        """The belief that it is none of the listed causes."""
        return sum(self.posterior[c.name] for c in self.candidates if c.cause == SOMETHING_ELSE)

    @property
    def anything_fits(self) -> bool:
        """Whether the library has something to say: few entries together are believed clearly more than none."""
        return sum(nlargest(FEW, self.by_entry.values())) >= CLEARLY * self.something_else


def of_entries(scores: Mapping[str, float], counts: Counts, others: int = 0) -> dict[str, float]:
    """P(entry | words, model) over the given entries and "" for none of them.

    P ∝ P(entry | model) · exp(WORDS_TRUST · score), a score being how much better than by chance the words fit.
    `others` are entries of the library that the words exclude.
    """
    whole = len(scores) + others
    weights = dict.fromkeys(scores, 1.0) | ({"": float(others)} if others else {})
    prior = belief.two_levels(
        weights,
        _with_others(counts.elsewhere, scores),
        _with_others(counts.here, scores),
        belief.ENTRY_PRIOR_JOBS * whole,
        belief.ENTRY_MODEL_JOBS * whole,
    )
    logs = {slug: math.log(prior[slug] * whole) + WORDS_TRUST * score for slug, score in scores.items()}
    logs[""] = 0.0
    top = max(logs.values())
    weights = {slug: math.exp(log - top) for slug, log in logs.items()}
    total = sum(weights.values())
    return {slug: weight / total for slug, weight in weights.items()}


def _with_others(counts: Mapping[str, float], scores: Mapping[str, float]) -> Mapping[str, float]:
    """The counts of the scored entries, and those of all others together under ""."""
    return dict(counts) | {"": sum(count for slug, count in counts.items() if slug not in scores)}


def diagnose(
    scores: Mapping[str, float],
    knowledge: Knowledge,
    *,
    findings: Sequence[Finding] = (),
    failed: Sequence[str] = (),
    also: Collection[str] = (),
    others: int = 0,
) -> Diagnosis:
    """The belief in every cause of every entry that the words allow, and in something else.

    `scores` are the fits of the words; `failed` names fixes that did not help, by a cause they cure; `also` names
    entries to keep whatever the words say (those whose tests were done); `others` is the number of entries that the
    words exclude.
    """
    shares = of_entries(scores, knowledge.counts, others)
    fits = of_entries(scores, Counts(), others)
    candidates = _candidates(shares, also, knowledge)
    likelihoods = [_likelihood(finding, candidates, knowledge) for finding in findings]
    likelihoods += [_ruled_out(fix, knowledge) for fix in failed]
    prior = {candidate.name: candidate.prior for candidate in candidates}
    return Diagnosis(tuple(candidates), belief.with_findings(prior, likelihoods), fits)


def _candidates(shares: Mapping[str, float], also: Collection[str], knowledge: Knowledge) -> list[Candidate]:
    """The causes of the entries that are not negligible beside the best one, and none of them."""
    least = NEGLIGIBLE * max((share for slug, share in shares.items() if slug), default=0.0)
    candidates = [Candidate("", SOMETHING_ELSE, shares[""])]
    for slug in sorted(slug for slug, share in shares.items() if slug and (share >= least or slug in also)):
        entry = knowledge.entry(slug)
        if entry is not None:
            within = knowledge.shares(entry)
            candidates += [Candidate(slug, cause, shares[slug] * share) for cause, share in within.items()]
    return candidates


def cause_shares(entry: Entry, counts: Counts) -> dict[str, float]:
    """The share of every cause of an entry, and of something it does not list."""
    listed = belief.two_levels(
        {cause.slug: WEIGHT_ODDS[cause.weight] for cause in entry.causes}, counts.elsewhere, counts.here
    )
    shares = {cause: share * (1.0 - belief.UNLISTED_SHARE) for cause, share in listed.items()}
    return {**shares, SOMETHING_ELSE: belief.UNLISTED_SHARE}


def _likelihood(finding: Finding, candidates: Sequence[Candidate], knowledge: Knowledge) -> dict[str, float]:
    """P(finding | cause) for every candidate; empty if the test or outcome is not known any more."""
    slug, _, name = finding.test.partition("/")
    entry = knowledge.entry(slug)
    test = entry.test(name) if entry else None
    texts = [outcome.text for outcome in test.outcomes] if test else []
    if entry is None or test is None or finding.outcome not in texts:
        return {}
    shown = texts.index(finding.outcome)
    rows = likelihoods_of(knowledge.trusted(entry, test), slug, candidates)
    return {candidate.name: row[shown] for candidate, row in zip(candidates, rows, strict=True)}


def _ruled_out(failed: str, knowledge: Knowledge) -> dict[str, float]:
    """That a fix did not help: the causes it would have cured are out."""
    slug, _, name = failed.partition("/")
    entry = knowledge.entry(slug)
    fix = entry.fix_for(name) if entry else None
    return {f"{slug}/{cause}": 0.0 for cause in fix.causes} if fix else {}


def likelihoods_of(test: Test, entry: str, candidates: Sequence[Candidate]) -> tuple[tuple[float, ...], ...]:
    """P(outcome | candidate) of a test of that entry: a row for every candidate, every outcome in it."""
    foreign = outcome_probabilities(test, "", listed=False)
    return tuple(
        outcome_probabilities(test, c.cause) if c.entry == entry and c.cause != SOMETHING_ELSE else foreign
        for c in candidates
    )


def entry_belief(diagnosis: Diagnosis, entry: Entry, counts: Counts, entry_counts: Counts) -> EntryBelief:
    """What is believed of an entry and its causes, with the counts it rests on, likeliest cause first."""
    whole = diagnosis.by_entry.get(entry.slug, 0.0)
    shares = cause_shares(entry, counts)
    causes = [
        _cause_belief(diagnosis, entry, cause, whole=whole, share=shares[cause.slug], counts=counts)
        for cause in entry.causes
    ]
    jobs = entry_counts.told
    return EntryBelief(
        entry=entry.slug,
        title=entry.title,
        area=entry.area,
        probability=whole,
        fit=diagnosis.fits.get(entry.slug, 0.0),
        causes=tuple(sorted(causes, key=lambda cause: (-cause.probability, cause.cause))),
        jobs_here=int(jobs.here.get(entry.slug, 0)),
        jobs_elsewhere=int(jobs.elsewhere.get(entry.slug, 0)),
    )


def _cause_belief(
    diagnosis: Diagnosis, entry: Entry, cause: Cause, *, whole: float, share: float, counts: Counts
) -> CauseBelief:
    """What is believed of one cause of an entry that is believed `whole`; `share` is its part before any test."""
    probability = diagnosis.posterior[f"{entry.slug}/{cause.slug}"]
    listed, rests_on = share / (1.0 - belief.UNLISTED_SHARE), _strength(counts)
    spread = belief.interval(listed * rests_on, (1.0 - listed) * rests_on)
    fix = entry.fix_for(cause.slug)
    told = counts.told
    return CauseBelief(
        cause=f"{entry.slug}/{cause.slug}",
        name=cause.text,
        weight=cause.weight,
        probability=probability,
        within=probability / whole if whole > 0 else share,
        low=spread.low,
        high=spread.high,
        confirmed_here=int(told.here.get(cause.slug, 0)),
        confirmed_elsewhere=int(told.elsewhere.get(cause.slug, 0)),
        fix_minutes=fix.minutes if fix else 0.0,
    )


def _strength(counts: Counts) -> float:
    """How many jobs the shares of causes rest on, the prior's included."""
    return sum(counts.here.values()) + belief.CAUSE_MODEL_JOBS
