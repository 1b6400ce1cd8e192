"""From words, model, history and test outcomes to the belief in every cause."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from heapq import nlargest
from typing import NamedTuple

from kb.diagnosis import belief
from kb.library.outcomes import outcome_probabilities
from kb.model import SOMETHING_ELSE, WEIGHT_ODDS, CauseBelief, Entry, EntryBelief, Finding, Test

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
        weights, _with_others(counts.elsewhere, scores), _with_others(counts.here, scores),
        belief.ENTRY_PRIOR_JOBS * whole, belief.ENTRY_MODEL_JOBS * whole,
    )  # fmt: skip
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
    entry_counts: Counts,
    entry_of: Callable[[str], Entry | None],
    shares_of: Callable[[Entry], Mapping[str, float]],
    findings: Sequence[Finding] = (),
    reliability: Callable[[Entry, Test], Test] = lambda entry, test: test,
    also: Sequence[str] = (),
    others: int = 0,
    failed: Sequence[str] = (),
) -> Diagnosis:
    """The belief in every cause of every entry that the words allow, and in something else.

    `scores` are the fits of the words; `shares_of` gives the shares of an entry's causes; `also` names entries
    to keep whatever the words say (those whose tests were done); `reliability` gives a test with what its past
    outcomes taught; `others` is the number of entries that the words exclude; `failed` names fixes that did not
    help, by a cause they cure.
    """
    shares = of_entries(scores, entry_counts, others)
    fits = of_entries(scores, Counts(), others)
    best = max((share for slug, share in shares.items() if slug), default=0.0)
    kept = {slug: share for slug, share in shares.items() if slug and (share >= best * NEGLIGIBLE or slug in also)}
    entries = {slug: entry for slug in kept if (entry := entry_of(slug)) is not None}
    candidates = [Candidate("", SOMETHING_ELSE, shares[""])]
    for slug, entry in sorted(entries.items()):
        candidates += [Candidate(slug, cause, kept[slug] * share) for cause, share in shares_of(entry).items()]
    likelihoods = [_likelihood(finding, candidates, entry_of, reliability) for finding in findings]
    likelihoods += [_ruled_out(fix, entry_of) for fix in failed]
    prior = {candidate.name: candidate.prior for candidate in candidates}
    return Diagnosis(tuple(candidates), belief.with_findings(prior, likelihoods), fits)


def cause_shares(entry: Entry, counts: Counts) -> dict[str, float]:
    """The share of every cause of an entry, and of something it does not list."""
    listed = belief.two_levels(
        {cause.slug: WEIGHT_ODDS[cause.weight] for cause in entry.causes}, counts.elsewhere, counts.here
    )
    shares = {cause: share * (1.0 - belief.UNLISTED_SHARE) for cause, share in listed.items()}
    return {**shares, SOMETHING_ELSE: belief.UNLISTED_SHARE}


def _likelihood(
    finding: Finding,
    candidates: Sequence[Candidate],
    entry_of: Callable[[str], Entry | None],
    reliability: Callable[[Entry, Test], Test],
) -> dict[str, float]:
    """P(finding | cause) for every candidate; empty if the test or outcome is not known any more."""
    slug, _, name = finding.test.partition("/")
    entry = entry_of(slug)
    test = entry.test(name) if entry else None
    if entry is None or test is None:
        return {}
    texts = [outcome.text for outcome in test.outcomes]
    if finding.outcome not in texts:
        return {}
    shown = texts.index(finding.outcome)
    rows = likelihoods_of(reliability(entry, test), slug, candidates)
    return {candidate.name: row[shown] for candidate, row in zip(candidates, rows, strict=True)}


def _ruled_out(failed: str, entry_of: Callable[[str], Entry | None]) -> dict[str, float]:
    """That a fix did not help: the causes it would have cured are out."""
    slug, _, name = failed.partition("/")
    entry = entry_of(slug)
    fix = entry.fix_for(name) if entry else None
    return {f"{slug}/{cause}": 0.0 for cause in fix.causes} if fix else {}


def likelihoods_of(test: Test, entry: str, candidates: Sequence[Candidate]) -> tuple[tuple[float, ...], ...]:
    """P(outcome | candidate) of a test of that entry: a row for every candidate, every outcome in it."""
    foreign = outcome_probabilities(test, "", listed=False)
    return tuple(
        outcome_probabilities(test, c.cause) if c.entry == entry and c.cause != SOMETHING_ELSE else foreign
        for c in candidates
    )


def entry_belief(
    diagnosis: Diagnosis,
    entry: Entry,
    counts: Counts,
    entry_counts: Counts,
    matched: tuple[str, ...] = (),
    marked: tuple[str, ...] = (),
) -> EntryBelief:
    """What is believed of an entry and its causes, with the counts it rests on, likeliest cause first."""
    whole = diagnosis.by_entry.get(entry.slug, 0.0)
    shares = cause_shares(entry, counts)
    rests_on, told, jobs = _strength(counts), counts.told, entry_counts.told
    causes = []
    for cause in entry.causes:
        probability = diagnosis.posterior[f"{entry.slug}/{cause.slug}"]
        within = probability / whole if whole > 0 else shares[cause.slug]
        prior_share = shares[cause.slug] / (1.0 - belief.UNLISTED_SHARE)
        spread = belief.interval(prior_share * rests_on, (1.0 - prior_share) * rests_on)
        fix = entry.fix_for(cause.slug)
        causes.append(
            CauseBelief(
                f"{entry.slug}/{cause.slug}", cause.text, cause.weight, probability, within, spread.low, spread.high,
                int(told.here.get(cause.slug, 0)), int(told.elsewhere.get(cause.slug, 0)),
                fix.minutes if fix else 0.0,
            )
        )  # fmt: skip
    causes.sort(key=lambda cause: (-cause.probability, cause.cause))
    return EntryBelief(
        entry.slug, entry.title, entry.area, whole, diagnosis.fits.get(entry.slug, 0.0), matched, tuple(causes),
        int(jobs.here.get(entry.slug, 0)), int(jobs.elsewhere.get(entry.slug, 0)), marked,
    )  # fmt: skip


def _strength(counts: Counts) -> float:
    """How many jobs the shares of causes rest on, the prior's included."""
    return sum(counts.here.values()) + belief.CAUSE_MODEL_JOBS
