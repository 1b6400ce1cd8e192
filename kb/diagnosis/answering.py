"""Answering a complaint: words, model, history and outcomes brought together, with the reasons for each part."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import nsmallest

from kb.base.ranked import most_first
from kb.diagnosis import advice, causes, fit, parting, urgent, wordings
from kb.diagnosis.answer import (
    Answer,
    EntryBelief,
    Outline,
    OutlinedCause,
    Parting,
    Step,
)
from kb.diagnosis.case import UNTOUCHED, SoFar
from kb.diagnosis.causes import Diagnosis
from kb.diagnosis.doing import headline
from kb.diagnosis.fit import Fit
from kb.diagnosis.knowledge import ShopKnowledge
from kb.diagnosis.recall import as_words, names_of
from kb.diagnosis.shown import all_shown, sheets_seen
from kb.index.remembered import Kept
from kb.language import named
from kb.model import Entry, Finding, Fix

#: An outline speaks of what cannot wait if the words name the danger, or if its sheet holds this share of the belief:
#: in a list of machines an alarm for every tenth of a chance would not be read.
MOSTLY = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """What is asked: the words, the model if it is known, what tests showed, and what was done on the job.

    `unfinished` says that the last word is still being typed, `limit` how many entries are wanted.
    """

    text: str
    model: str = ""
    findings: Sequence[Finding] = ()
    at: SoFar = UNTOUCHED
    unfinished: bool = False
    limit: int = 5

    @property
    def tested(self) -> frozenset[str]:
        """The entries whose tests were done."""
        return frozenset(finding.test.partition("/")[0] for finding in self.findings)


def answer(complaint: Complaint, shop: ShopKnowledge) -> Answer:
    """The ranked answer out of what a shop knows; a model named in the words counts if none is given.

    Words still being typed that nothing fits as yet bring no next step: it would only be a guess at a few letters.
    """
    started = time.perf_counter()
    query, knowledge = complaint.text, _on_its_model(complaint, shop)
    complaint = _without_the_model(complaint, knowledge)
    fitted = _fitted(complaint, knowledge)
    believed = _believed(complaint, fitted, knowledge)
    answered = Answer(
        query=query,
        model=knowledge.model,
        entries=_entries(complaint, fitted, believed, knowledge),
        something_else=believed.something_else,
        corrections=tuple(
            (one.typed, one.read_as) for one in fitted.reading.corrections
        ),
        fits=believed.anything_fits,
        two=_two(fitted, believed, knowledge),
    )
    is_a_guess = complaint.unfinished and not answered.fits
    answered = replace(
        answered,
        at_once=_at_once({} if is_a_guess else believed.by_entry, fitted, knowledge),
    )
    if not is_a_guess:
        answered = _advised(answered, complaint, believed, knowledge)
    if (
        answered.fits
        and not answered.two
        and not complaint.findings
        and not complaint.unfinished
    ):
        answered = replace(
            answered, parting=_parting(answered, complaint, believed, knowledge)
        )
    return replace(answered, took_ms=(time.perf_counter() - started) * 1000.0)


@dataclass(frozen=True, slots=True)
class Ranking:
    """The order of the entries alone, as slugs with their belief and fit, without causes, reasons or a next step."""

    query: str
    model: str
    entries: tuple[tuple[str, float, float], ...]
    something_else: float
    fits: bool
    two: tuple[str, ...]


def ranking(complaint: Complaint, shop: ShopKnowledge) -> Ranking:
    """The order of the entries for a complaint, at a third of the cost of an answer."""
    query, knowledge = complaint.text, _on_its_model(complaint, shop)
    complaint = _without_the_model(complaint, knowledge)
    fitted = _fitted(complaint, knowledge)
    believed = _believed(complaint, fitted, knowledge)
    return Ranking(
        query=query,
        model=knowledge.model,
        entries=tuple(
            (slug, share, believed.fits.get(slug, 0.0))
            for share, slug in _likeliest(complaint, believed)
        ),
        something_else=believed.something_else,
        fits=believed.anything_fits,
        two=_two(fitted, believed, knowledge),
    )


def outline(complaint: Complaint, shop: ShopKnowledge) -> Outline:
    """What an answer believes of the causes of its entries, its next step and what cannot wait, without reasons."""
    knowledge = _on_its_model(complaint, shop)
    complaint = _without_the_model(complaint, knowledge)
    fitted = _fitted(complaint, knowledge)
    believed = _believed(complaint, fitted, knowledge)
    outlined: list[OutlinedCause] = []
    for _, slug in _likeliest(complaint, believed):
        entry = knowledge.entry(slug)
        outlined += _outlined(entry, believed) if entry else ()
    at = replace(complaint.at, findings=tuple(complaint.findings))
    mostly = {
        slug: share for slug, share in believed.by_entry.items() if share >= MOSTLY
    }
    at_once = _at_once(mostly, fitted, knowledge)
    return Outline(
        causes=tuple(outlined),
        next_step=advice.advise(believed, knowledge, at).step,
        at_once=at_once,
    )


def _outlined(entry: Entry, believed: Diagnosis) -> Iterator[OutlinedCause]:
    """The causes of an entry as they are believed."""
    for cause in entry.causes:
        name = f"{entry.slug}/{cause.slug}"
        yield OutlinedCause(name, believed.posterior[name], entry.fix_for(cause.slug))


def _on_its_model(complaint: Complaint, shop: ShopKnowledge) -> ShopKnowledge:
    """What the shop knows on the complaint's model: the one that is given, or else the one that its words name."""
    return shop.on(
        complaint.model or named.model_in(complaint.text, shop.names_of_models())
    )


def _without_the_model(complaint: Complaint, knowledge: ShopKnowledge) -> Complaint:
    """The complaint without the model that its words name, by whatever name."""
    text = complaint.text
    for name in (*knowledge.same.others(knowledge.model), knowledge.model):
        text = named.without(text, name).strip()
    return replace(complaint, text=text)


def _likeliest(complaint: Complaint, believed: Diagnosis) -> list[tuple[float, str]]:
    """The likeliest entries with the belief in each, as many as are asked for."""
    found = nsmallest(
        max(complaint.limit, 1),
        ((-share, slug) for slug, share in believed.by_entry.items()),
    )
    return [(-share, slug) for share, slug in found]


def _fitted(complaint: Complaint, knowledge: ShopKnowledge) -> Fit:
    """How the words fit the entries; those to be kept are looked at anyway."""
    index, kept = knowledge.index, _kept(complaint, knowledge)
    also = [number for number, slug in index.slugs().items() if slug in kept]
    return fit.fit(
        complaint.text,
        knowledge.lexicon,
        index,
        complaint.unfinished,
        also,
        stated=knowledge.stated,
    )


def _by_name(complaint: Complaint, knowledge: ShopKnowledge) -> str:
    """The sheet whose title or name the words are, empty for none."""
    index = knowledge.index
    names = index.remembered.get(Kept.NAMES, lambda: names_of(index.sheets.titles()))
    return names.get(as_words(complaint.text), "")


def _kept(complaint: Complaint, knowledge: ShopKnowledge) -> frozenset[str]:
    """The entries to look at whatever the words say: those whose tests were done, and those their outcomes point to."""
    return complaint.tested | sheets_seen(
        all_shown(complaint.findings, knowledge.entry)
    )


def _believed(complaint: Complaint, fitted: Fit, knowledge: ShopKnowledge) -> Diagnosis:
    """The belief in every cause, by words, history and what was shown and tried."""
    slugs = knowledge.index.slugs()
    scores = {
        slugs[number]: score
        for number, score in fitted.scores.items()
        if number in slugs
    }
    by_name = _by_name(complaint, knowledge)
    return causes.diagnose(
        scores if fitted.known_words or by_name else {},
        knowledge,
        findings=complaint.findings,
        failed=complaint.at.failed,
        also=_kept(complaint, knowledge),
        others=fitted.others,
        two=[slugs[number] for number in fitted.two if number in slugs],
        same=knowledge.recalled(fitted.reading.corrected).naming(by_name),
    )


def _two(fitted: Fit, believed: Diagnosis, knowledge: ShopKnowledge) -> tuple[str, ...]:
    """The two entries of a complaint that tells of two faults, likelier one first; empty where nothing fits."""
    slugs = knowledge.index.slugs()
    told = [slugs[number] for number in fitted.two if number in slugs]
    if not believed.anything_fits or not believed.by_entry.keys() >= set(told):
        return ()
    return tuple(most_first({slug: believed.by_entry[slug] for slug in told}))


def _entries(
    complaint: Complaint, fitted: Fit, believed: Diagnosis, knowledge: ShopKnowledge
) -> tuple[EntryBelief, ...]:
    """The likeliest entries with their causes, counts and the wordings that speak for them."""
    said = wordings.said_by(
        fitted.reading.corrected, fitted.reading.tokens, knowledge.lexicon
    )
    telling = wordings.weights(
        said, knowledge.index.postings(wordings.signed_terms(said))
    )
    slugs = knowledge.index.slugs()
    against = {
        slugs[number]: texts
        for number, texts in fitted.against.items()
        if number in slugs
    }
    entries = []
    for _, slug in _likeliest(complaint, believed):
        entry = knowledge.entry(slug)
        if entry is None:
            continue
        matched = wordings.closest(said, telling, knowledge.heard(entry, said))
        belief = knowledge.belief_in(entry, believed)
        texts = tuple(one.text for one in matched)
        denied = against.get(slug, ())
        entries.append(
            replace(
                belief,
                matched=texts,
                marked=wordings.marked(said, matched),
                against=denied,
            )
        )
    return tuple(entries)


def _at_once(
    shares: Mapping[str, float], fitted: Fit, knowledge: ShopKnowledge
) -> tuple[str, ...]:
    """What to do before any test, by what is likely and by the danger that the words name."""
    return urgent.deeds(
        shares,
        urgent.named(fitted.reading.tokens, knowledge.dangers()),
        knowledge.entry,
    )


def _parting(
    answered: Answer,
    complaint: Complaint,
    believed: Diagnosis,
    knowledge: ShopKnowledge,
) -> Parting | None:
    """The question between the first entry and its neighbour; no test is named where another has to come first."""
    is_held = answered.next_step is not None and bool(answered.next_step.held)
    return parting.parting(
        believed.by_entry, knowledge, complaint.at.lacks or (), with_test=not is_held
    )


def _advised(
    answered: Answer,
    complaint: Complaint,
    believed: Diagnosis,
    knowledge: ShopKnowledge,
) -> Answer:
    """The answer with what to do next."""
    at = replace(complaint.at, findings=tuple(complaint.findings))
    advised = advice.advise(believed, knowledge, at, complaint.unfinished)
    step = _as_the_house_says(advised.step, knowledge)
    test = (
        step
        if advised.test == advised.step
        else _as_the_house_says(advised.test, knowledge)
    )
    return replace(
        answered,
        next_step=step,
        next_test=test,
        undivided=advised.undivided,
        loss=advised.loss,
    )


def _as_the_house_says(step: Step | None, knowledge: ShopKnowledge) -> Step | None:
    """The step with its cautions: those of the house by what it does, then those of its sheet; a fix by its verb."""
    entry = knowledge.entry(step.entry) if step and step.entry else None
    if step is None or entry is None:
        return step
    done = entry.test(step.name) if step.kind == "test" else entry.fix_for(step.name)
    if isinstance(done, Fix):
        step = replace(step, title=headline(done.text, knowledge.verbs()))
    if done is None:
        return step
    return replace(
        step,
        cautions=knowledge.cautions_of(entry, done),
        procedure=knowledge.procedure_of(done),
    )
