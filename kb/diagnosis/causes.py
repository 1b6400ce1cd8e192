"""From words, model, history and test outcomes to the belief in every cause."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from heapq import nlargest
from typing import NamedTuple, Protocol

from kb.base.pooling import Pooling
from kb.base.ranked import most_first
from kb.diagnosis import belief, recall
from kb.diagnosis.answer import CauseBelief, EntryBelief
from kb.diagnosis.beyond import Beyond, upper
from kb.diagnosis.recall import NOTHING, Recalled
from kb.diagnosis.shown import Shown, all_shown, contradicts, says_state
from kb.library.outcomes import outcome_probabilities, pointing_probabilities
from kb.model import SOMETHING_ELSE, Cause, Entry, Finding, Test, named_fix

#: How far the words' log-likelihood is believed: words of a text are not independent, so that it overstates.
#: Chosen so that what is said is true of six sets of complaints by people (at .55 they were right more often), while
#: wordings left out and simulated jobs stay within their gates (at .7 they are right less often).
WORDS_TRUST = 0.62
#: How far a text read as one of two faults is believed to be one: the first entry was right in 111 of 119 such
#: complaints of the open sets.
TRULY_TWO = 0.93
#: Entries less believed than this share of the best are not looked at further.
NEGLIGIBLE = 1e-4
#: A sheet to which an outcome points is believed at least so much before that outcome as the sheet that points to it:
#: one complaint in four is told in the words of a neighbour (of 301 unseen ones the right sheet is not first in 26 %).
TOLD_AS_NEIGHBOUR = 0.25
#: Once something was done on a job, the sheets to which the tests of a likely one lead are believed together at least
#: so much as it was before: only so are those tests worth their minutes, and nothing is looked for beyond all sheets
#: while a neighbour was not looked at. Chosen on half of the pairs of `tests/benchmarks/neighbours.py`.
LED_TO = 0.06
#: Entries less believed than this lend nothing to those their tests lead to.
LEADING = 0.05
#: Of several sheets to which one outcome points the words choose; one they mean less keeps this much of the other.
LESS_MEANT = 0.1
#: What is left of the belief in a sheet whose machine cannot be in the state that was shown (assumption).
WRONG_STATE = 0.02
#: The few likeliest entries together must be believed so many times as much as something else to be said to fit:
#: "black screen" may be one of five, none of which is believed more than something else. It is more than the belief
#: alone would ask for: that is set by what is mostly asked, faults that are here. Of 359 lines on other subjects 35
#: pass so, of 1,320 complaints about one in seventy is refused.
FEW, CLEARLY = 5, 4.2


@dataclass(frozen=True, slots=True)
class Counts:
    """Confirmed jobs by name, on the model at hand and on all others, as they weigh in the belief.

    Where some jobs weigh less, `whole` holds the same jobs as they were counted: that is what people are shown.
    `beyond` is what other shops had, None where nothing is known of any.
    """

    here: Mapping[str, float] = field(default_factory=dict)
    elsewhere: Mapping[str, float] = field(default_factory=dict)
    whole: Counts | None = None
    beyond: Beyond | None = None

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


@dataclass(frozen=True, slots=True)
class Weighed:
    """The share of each cause of an entry before any test, the jobs it rests on, and whether weights are a pallet's.

    `rests_on` says for each cause on how many jobs its share rests, the prior's included; where it says nothing it is
    what the jobs on the model and the usual prior make.
    """

    shares: Mapping[str, float]
    counts: Counts
    pallet: bool = False
    rests_on: Mapping[str, float] = field(default_factory=dict)


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

    @property
    def likeliest(self) -> str:
        """The likeliest entry, empty if there is none."""
        return next(iter(most_first(self.by_entry)), "")

    @cached_property
    def something_else(self) -> float:
        """The belief that it is none of the listed causes."""
        return sum(
            self.posterior[c.name] for c in self.candidates if c.cause == SOMETHING_ELSE
        )

    @cached_property
    def unlisted(self) -> Mapping[str, float]:
        """The belief in something else in the picture of each entry, which its own causes do not list."""
        unlisted = [
            one for one in self.candidates if one.cause == SOMETHING_ELSE and one.entry
        ]
        return {one.entry: self.posterior[one.name] for one in unlisted}

    @property
    def unlisted_picture(self) -> str:
        """The entry in whose picture something else is mostly believed, empty if there is no such one."""
        likeliest = next(iter(most_first(self.unlisted)), "")
        return (
            likeliest
            if 2 * self.unlisted.get(likeliest, 0.0) > self.something_else
            else ""
        )

    @property
    def anything_fits(self) -> bool:
        """Whether the library has something to say: few entries together are believed clearly more than none."""
        return (
            sum(nlargest(FEW, self.by_entry.values())) >= CLEARLY * self.something_else
        )


def of_entries(
    scores: Mapping[str, float], counts: Counts, others: int = 0
) -> dict[str, float]:
    """P(entry | words, model) over the given entries and "" for none of them.

    P ∝ P(entry | model) · exp(WORDS_TRUST · score), a score being how much better than by chance the words fit.
    `others` are entries of the library that the words exclude.
    """
    whole = len(scores) + others
    prior = _how_often(scores, counts, others)
    logs = {
        slug: math.log(prior[slug] * whole) + WORDS_TRUST * score
        for slug, score in scores.items()
    }
    logs[""] = 0.0
    top = max(logs.values())
    weights = {slug: math.exp(log - top) for slug, log in logs.items()}
    total = sum(weights.values())
    return {slug: weight / total for slug, weight in weights.items()}


def _how_often(
    scores: Mapping[str, float], counts: Counts, others: int
) -> dict[str, float]:
    """P(entry | model) before any words, of the entries of these scores and of `others` together under ""."""
    whole = len(scores) + others
    return belief.two_levels(
        _often(scores, counts.beyond, others),
        _with_others(counts.elsewhere, scores),
        _with_others(counts.here, scores),
        belief.ENTRY_PRIOR_JOBS * whole,
        belief.ENTRY_MODEL_JOBS * whole,
    )


def _beside_each_other(
    fits: Mapping[str, float], two: Collection[str]
) -> dict[str, float]:
    """The fits, those of two faults told at once each as if the other were not there, as far as they are two.

    >>> _beside_each_other({"fan-noisy": 0.5, "odour": 0.3, "": 0.2}, ("fan-noisy", "odour"))
    {'fan-noisy': 0.664..., 'odour': 0.558, '': 0.2}
    """
    beside = dict(fits)
    for slug in two:
        left = sum(
            share for other, share in fits.items() if other == slug or other not in two
        )
        if left > 0.0:
            beside[slug] = max(fits[slug], TRULY_TWO * fits[slug] / left)
    return beside


def _often(
    scores: Mapping[str, float], beyond: Beyond | None, others: int
) -> dict[str, float]:
    """How often each of those entries is before the shop's own jobs, and the others under "": alike or as elsewhere."""
    if beyond is not None:
        return beyond.weights(scores, others, belief.ENTRY_PRIOR_JOBS)
    return dict.fromkeys(scores, 1.0) | ({"": float(others)} if others else {})


def _with_others(
    counts: Mapping[str, float], scores: Mapping[str, float]
) -> Mapping[str, float]:
    """The counts of the scored entries, and those of all others together under ""."""
    return dict(counts) | {
        "": sum(count for slug, count in counts.items() if slug not in scores)
    }


def diagnose(
    scores: Mapping[str, float],
    knowledge: Knowledge,
    *,
    findings: Sequence[Finding] = (),
    failed: Sequence[str] = (),
    also: Collection[str] = (),
    others: int = 0,
    two: Collection[str] = (),
    same: Recalled = NOTHING,
) -> Diagnosis:
    """The belief in every cause of every entry that the words allow, and in something else.

    `scores` are the fits of the words; `failed` names fixes that did not help, by a cause they cure; `also` names
    entries to keep whatever the words say (those whose tests were done); `others` is the number of entries that the
    words exclude; `two` are the entries of words that tell of two faults; `same` is what came of the very same words on
    the model.
    """
    found = all_shown(findings, knowledge.entry)
    told = recall.leaning(
        of_entries(scores, knowledge.counts, others), same.entries, recall.ENTRY_JOBS
    )
    begun = bool(findings or failed)
    shares = _with_neighbours(told, found, knowledge) if begun else told
    fits = _beside_each_other(of_entries(scores, Counts(), others), two)
    candidates = _candidates(shares, also, knowledge, same)
    likelihoods = [_likelihood(one, candidates, knowledge) for one in found]
    likelihoods += [_by_state(found, candidates, knowledge)]
    likelihoods += [_ruled_out(fix, knowledge) for fix in failed]
    prior = {candidate.name: candidate.prior for candidate in candidates}
    return Diagnosis(tuple(candidates), belief.with_findings(prior, likelihoods), fits)


def _with_neighbours(
    shares: Mapping[str, float], found: Sequence[Shown], knowledge: Knowledge
) -> Mapping[str, float]:
    """The shares of the entries, those to which tests lead at least as likely as a complaint in a neighbour's words.

    That is more where an outcome points to them, and less where the shop has had them less often on this model than the
    entry in whose words they would be told: a habit of the model is not given up for one outcome.
    """
    told = _told_as(shares, found, knowledge)
    slugs = dict.fromkeys((*shares, *(slug for pair in told for slug in pair)), 0.0)
    slugs.pop("", None)
    often = _how_often(slugs, knowledge.counts, 0)
    raised = dict(shares)
    for (words_of, slug), part in told.items():
        rarer = min(1.0, often[slug] / often[words_of])
        least = part * rarer * shares.get(words_of, 0.0)
        raised[slug] = max(raised.get(slug, 0.0), least)
    return raised


def _told_as(
    shares: Mapping[str, float], found: Sequence[Shown], knowledge: Knowledge
) -> dict[tuple[str, str], float]:
    """By an entry and one to which its tests lead: how likely the other one is told in its words, beside itself."""
    leading = [slug for slug, share in shares.items() if slug and share >= LEADING]
    told = {
        (entry.slug, slug): LED_TO / len(entry.leads_to)
        for entry in filter(None, map(knowledge.entry, leading))
        for slug in entry.leads_to
    }
    for one in found:
        seen = one.outcome.sheets_seen
        best = max((shares.get(slug, 0.0) for slug in seen), default=0.0)
        for slug in seen:
            beside = shares.get(slug, 0.0) / best if best > 0.0 else 1.0
            told[one.entry.slug, slug] = TOLD_AS_NEIGHBOUR * max(beside, LESS_MEANT)
    return told


def _candidates(
    shares: Mapping[str, float],
    also: Collection[str],
    knowledge: Knowledge,
    same: Recalled,
) -> list[Candidate]:
    """The causes of the entries that are not negligible beside the best one, and none of them."""
    of_entries = {slug: share for slug, share in shares.items() if slug}
    least = NEGLIGIBLE * max(of_entries.values(), default=0.0)
    candidates = [Candidate("", SOMETHING_ELSE, shares[""])]
    for slug in sorted(of_entries):
        is_looked_at = shares[slug] >= least or slug in also
        entry = knowledge.entry(slug) if is_looked_at else None
        if entry is not None:
            within = recall.leaning(
                knowledge.shares(entry), same.causes.get(slug, {}), recall.CAUSE_JOBS
            )
            candidates += [
                Candidate(slug, cause, shares[slug] * share)
                for cause, share in within.items()
            ]
    return candidates


def cause_shares(
    entry: Entry, counts: Counts, pallet: bool = False
) -> dict[str, float]:
    """The share of every cause of an entry, and of something it does not list.

    `pallet` says that the shop's machines come from pallets, where some causes have a weight of their own.
    """
    return _with_unlisted(
        belief.two_levels(
            entry.odds(pallet), counts.elsewhere, counts.here, beyond=counts.beyond
        )
    )


def weighed_as_taught(
    entry: Entry,
    counts: Counts,
    told: Mapping[str, float],
    pooling: Pooling,
    pallet: bool,
) -> Weighed:
    """The shares of an entry's causes where the history has taught how much its models have in common.

    `told` is what the jobs on other models tell, by cause (`kb.base.pooling.told`).
    """
    prior_jobs = belief.CAUSE_PRIOR_JOBS if counts.beyond else pooling.prior_jobs
    above = upper(
        entry.odds(pallet), told, counts.beyond, prior_jobs, belief.CAUSE_MODEL_JOBS
    )
    found = pooling.over(above, counts.here)
    return Weighed(_with_unlisted(found.shares), counts, pallet, found.jobs)


def _with_unlisted(listed: Mapping[str, float]) -> dict[str, float]:
    shares = {
        cause: share * (1.0 - belief.UNLISTED_SHARE) for cause, share in listed.items()
    }
    return {**shares, SOMETHING_ELSE: belief.UNLISTED_SHARE}


def _likelihood(
    found: Shown, candidates: Sequence[Candidate], knowledge: Knowledge
) -> dict[str, float]:
    """P(finding | cause) for every candidate."""
    rows = likelihoods_of(
        knowledge.trusted(found.entry, found.test), found.entry.slug, candidates
    )
    return {
        candidate.name: row[found.place]
        for candidate, row in zip(candidates, rows, strict=True)
    }


def _by_state(
    found: Sequence[Shown], candidates: Sequence[Candidate], knowledge: Knowledge
) -> dict[str, float]:
    """What the last finding that says what the machine does leaves of the entries whose machine would do otherwise.

    The causes to which that finding points are left as they are: "it starts" after the cure of a dead machine.
    """
    last = says_state(found)
    if last is None:
        return {}
    entries = map(knowledge.entry, {candidate.entry for candidate in candidates})
    out = {
        entry.slug
        for entry in entries
        if entry and contradicts(entry, last.outcome.machine)
    }
    doubted = {candidate.name for candidate in candidates if candidate.entry in out}
    kept = {f"{last.entry.slug}/{cause}" for cause in last.outcome.points_to}
    return dict.fromkeys(doubted - kept, WRONG_STATE)


def _ruled_out(failed: str, knowledge: Knowledge) -> dict[str, float]:
    """That a fix did not help: the causes it would have cured are out, or the one whose fix is not written down."""
    slug, _, name = failed.partition("/")
    fix = named_fix(failed, knowledge.entry)
    return {f"{slug}/{cause}": 0.0 for cause in (fix.causes if fix else (name,))}


def likelihoods_of(
    test: Test, entry: str, candidates: Sequence[Candidate]
) -> tuple[tuple[float, ...], ...]:
    """P(outcome | candidate) of a test of that entry: a row for every candidate, every outcome in it.

    Something else in the picture of that entry shows what clears its causes, as surely as the test is right.
    """
    foreign = outcome_probabilities(test, "", listed=False)
    points = any(outcome.see for outcome in test.outcomes)

    def row(one: Candidate) -> tuple[float, ...]:
        if one.entry == entry:
            return outcome_probabilities(
                test, "" if one.cause == SOMETHING_ELSE else one.cause
            )
        return (
            pointing_probabilities(test, one.entry, one.cause) if points else ()
        ) or foreign

    return tuple(map(row, candidates))


def entry_belief(
    diagnosis: Diagnosis, entry: Entry, weighed: Weighed, entry_counts: Counts
) -> EntryBelief:
    """What is believed of an entry and its causes, with the counts it rests on, likeliest cause first."""
    whole = diagnosis.by_entry.get(entry.slug, 0.0)
    causes = [
        _cause_belief(diagnosis, entry, cause, whole, weighed) for cause in entry.causes
    ]
    jobs, beyond = entry_counts.told, weighed.counts.beyond
    return EntryBelief(
        entry=entry.slug,
        title=entry.title,
        area=entry.area,
        probability=whole,
        unlisted=diagnosis.unlisted.get(entry.slug, 0.0),
        fit=diagnosis.fits.get(entry.slug, 0.0),
        causes=tuple(
            sorted(causes, key=lambda cause: (-cause.probability, cause.cause))
        ),
        jobs_here=int(jobs.here.get(entry.slug, 0)),
        jobs_elsewhere=int(jobs.elsewhere.get(entry.slug, 0)),
        other_shops=beyond.shops if beyond else 0,
        jobs_in_other_shops=beyond.jobs if beyond else 0,
    )


def _cause_belief(
    diagnosis: Diagnosis, entry: Entry, cause: Cause, whole: float, weighed: Weighed
) -> CauseBelief:
    """What is believed of one cause of an entry that is believed `whole`."""
    counts, share = weighed.counts, weighed.shares[cause.slug]
    probability = diagnosis.posterior[f"{entry.slug}/{cause.slug}"]
    listed = share / (1.0 - belief.UNLISTED_SHARE)
    rests_on = weighed.rests_on.get(cause.slug) or _strength(counts)
    spread = belief.interval(listed * rests_on, (1.0 - listed) * rests_on)
    fix = entry.fix_for(cause.slug)
    told = counts.told
    return CauseBelief(
        cause=f"{entry.slug}/{cause.slug}",
        name=cause.text,
        weight=cause.weight_in(weighed.pallet),
        probability=probability,
        within=probability / whole if whole > 0 else share,
        low=spread.low,
        high=spread.high,
        confirmed_here=int(told.here.get(cause.slug, 0)),
        confirmed_elsewhere=int(told.elsewhere.get(cause.slug, 0)),
        in_other_shops=counts.beyond.share(cause.slug) if counts.beyond else 0.0,
        fix_minutes=fix.minutes if fix else 0.0,
    )


def _strength(counts: Counts) -> float:
    """How many jobs the shares of causes rest on, the prior's included."""
    return sum(counts.here.values()) + belief.CAUSE_MODEL_JOBS
