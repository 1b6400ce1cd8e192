"""A complaint answered: words, model, history and outcomes brought together, with the reasons for each part."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from heapq import nsmallest

from kb.diagnosis import advice, fit, urgent, wordings
from kb.diagnosis import causes as diagnosis
from kb.diagnosis import counts as tally
from kb.diagnosis.belief import learned
from kb.diagnosis.causes import Counts, Diagnosis
from kb.diagnosis.counts import ALIKE, Ageing
from kb.index.index import Index
from kb.language import named
from kb.language.words import Lexicon, Token
from kb.model import Answer, Entry, EntryBelief, Finding, Test

#: What is counted where nothing was confirmed yet.
NO_JOBS = Counts()


def answer(
    index: Index,
    lexicon: Lexicon,
    text: str,
    model: str,
    findings: Sequence[Finding],
    limit: int,
    unfinished: bool,
    at: advice.Bench,
    ageing: Ageing = ALIKE,
) -> Answer:
    """The ranked answer over an index that is being read; a model named in the words counts if none is given.

    Words still being typed that nothing fits as yet bring no next step: it would only be a guess at a few letters.
    """
    started = time.perf_counter()
    model = model or named.model_in(text, known_models(index))
    plain = named.without(text, model)
    tested = tuple(finding.test.partition("/")[0] for finding in findings)
    slugs = index.slugs()
    found = fit.fit(plain, lexicon, index, unfinished, [n for n, slug in slugs.items() if slug in tested])
    scores = {slugs[number]: score for number, score in found.scores.items() if number in slugs}
    trusted = trusted_tests(index)
    known = diagnosis.diagnose(
        scores if found.known_words else {}, entry_counts(index, model, ageing), index.entry,
        lambda entry: cause_shares(index, entry, model, ageing), findings, trusted, tested, found.others, at.failed,
    )  # fmt: skip
    complaint = wordings.said_by(found.reading.corrected, found.reading.tokens, lexicon)
    entries = _entries(index, lexicon, known, complaint, model, limit, ageing)
    corrections = tuple((c.typed, c.read_as) for c in found.reading.corrections)
    answered = Answer(text, model, entries, known.something_else, corrections, fits=known.anything_fits)
    shares = known.by_entry if answered.fits or not unfinished else {}
    dangers = _dangers(index, lexicon, found.reading.tokens)
    answered = replace(answered, at_once=urgent.deeds(shares, dangers, index.entry))
    if answered.fits or not unfinished:
        answered = _advised(answered, known, index, replace(at, findings=tuple(findings)), unfinished)
    return replace(answered, took_ms=(time.perf_counter() - started) * 1000.0)


def _advised(answered: Answer, known: Diagnosis, index: Index, at: advice.Bench, hasty: bool) -> Answer:
    """The answer with what to do next."""
    advised = advice.advise(known, index.entry, at, trusted_tests(index), hasty)
    return replace(
        answered, next_step=advised.step, next_test=advised.test, undivided=advised.undivided, loss=advised.loss
    )


def _dangers(index: Index, lexicon: Lexicon, found: Sequence[Token]) -> frozenset[str]:
    """The entries whose danger the words name."""

    def load() -> dict[str, urgent.Phrases]:
        return {slug: urgent.phrases(words, lexicon) for slug, words in index.dangers().items()}

    return urgent.named(found, index.remembered("dangers", load, lasting=True))


def known_models(index: Index) -> list[str]:
    """The models in the history, most frequent first."""
    return index.remembered("models", lambda: tally.models(index.connection))


def entry_counts(index: Index, model: str, ageing: Ageing = ALIKE) -> Counts:
    """Confirmed jobs by entry, on the model and on the others; remembered for one half-life and one day."""
    return _confirmed(index, model, ageing).entries


def cause_counts(index: Index, slug: str, model: str, ageing: Ageing = ALIKE) -> Counts:
    """Confirmed jobs of an entry by cause, on the model and on the others; remembered likewise."""
    return _confirmed(index, model, ageing).causes.get(slug, NO_JOBS)


def _confirmed(index: Index, model: str, ageing: Ageing) -> tally.Confirmed:
    key = ("confirmed", model.casefold(), ageing)
    return index.remembered(key, lambda: tally.confirmed(index.connection, model, ageing))


def cause_shares(index: Index, entry: Entry, model: str, ageing: Ageing = ALIKE) -> Mapping[str, float]:
    """The share of each cause of an entry on the model, by the entry's own weights and the confirmed jobs."""
    known: dict[str, Mapping[str, float]] = index.remembered(("shares", model.casefold(), ageing), dict)
    if entry.slug not in known:
        known[entry.slug] = diagnosis.cause_shares(entry, cause_counts(index, entry.slug, model, ageing))
    return known[entry.slug]


def trusted_tests(index: Index) -> Callable[[Entry, Test], Test]:
    """Gives a test the reliability that its past outcomes taught."""

    def trusted(entry: Entry, test: Test) -> Test:
        records = index.remembered(("tests", entry.slug), lambda: tally.of_tests(index.connection, entry))
        record = records.get(test.slug)
        if record is None:
            return test
        return replace(test, reliability=learned(test.reliability, record.right, record.wrong))

    return trusted


def _entries(
    index: Index, lexicon: Lexicon, known: Diagnosis, complaint: wordings.Said, model: str, limit: int, ageing: Ageing
) -> tuple[EntryBelief, ...]:
    """The likeliest entries with their causes, counts and the wordings that speak for them."""
    telling = wordings.weights(complaint, index.postings(wordings.signed_terms(complaint)))
    counts = entry_counts(index, model, ageing)
    likeliest = nsmallest(max(limit, 1), ((-share, slug) for slug, share in known.by_entry.items()))
    entries = []
    for _, slug in likeliest:
        entry = index.entry(slug)
        if entry is None:
            continue
        matched = wordings.closest(complaint, telling, heard(index, lexicon, entry))
        texts, marked = tuple(one.text for one in matched), wordings.marked(complaint, matched)
        causes = cause_counts(index, slug, model, ageing)
        entries.append(diagnosis.entry_belief(known, entry, causes, counts, texts, marked))
    return tuple(entries)


def heard(index: Index, lexicon: Lexicon, entry: Entry) -> list[wordings.Said]:
    """What an entry's own texts and the complaints it was confirmed under tell of."""

    def own() -> list[wordings.Said]:
        return [wordings.said(text, lexicon) for text in (*entry.wordings, *entry.symptoms, entry.title)]

    def spoken() -> list[wordings.Said]:
        texts = [one.text for one in index.spoken(entry.slug)]
        known.update((text, wordings.said(text, lexicon)) for text in texts if text not in known)
        return [known[text] for text in texts]

    known: dict[str, wordings.Said] = index.remembered(("said", entry.slug), dict, lasting=True)
    written = index.remembered(("heard", entry.slug), own, lasting=True)
    return [*written, *index.remembered(("spoken", entry.slug), spoken)]
