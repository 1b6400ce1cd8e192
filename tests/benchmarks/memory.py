"""What a shop with some history knows: the program's own search, diagnosis and counts over one shop folder."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

from kb import advice, diagnosis, fit, tally, words
from kb.advice import Advice
from kb.belief import learned
from kb.diagnosis import Counts, Diagnosis
from kb.index import Index
from kb.model import SOMETHING_ELSE, Entry, Finding, Test


@dataclass(frozen=True, slots=True)
class Read:
    """How a complaint on a model was read: the fits of the words, and the entries best first."""

    scores: Mapping[str, float]
    ranked: tuple[Entry, ...]
    named_first: str


class Memory:
    """The steps of `kb.bench.Bench.search` with the counts and fits of one state of the history held."""

    def __init__(self, folder: Path) -> None:
        self._index = Index(folder / "index.db")
        self._lexicon = words.from_json(self._index.about("lexicon"))
        self.causes_counted = cache(self._causes_counted)
        self._entries_counted = cache(lambda model: tally.of_entries(self._index.connection, model))
        self._records: dict[tuple[str, str], float] = {}

    def read(self, text: str, model: str, looked_at: int = 5) -> Read:
        """The words fitted, and the entries that a search shows first."""
        found = fit.fit(text, self._lexicon, self._index)
        slugs = self._index.slugs()
        scores = {slugs[number]: score for number, score in found.scores.items() if number in slugs}
        scores = scores if found.known_words else {}
        known = self.diagnose(scores, model)
        order = sorted({c.entry for c in known.candidates if c.entry}, key=lambda slug: (-known.of_entry(slug), slug))
        ranked = tuple(entry for slug in order[:looked_at] if (entry := self.entry(slug)))
        listed = [c.name for c in known.candidates if c.cause != SOMETHING_ELSE]
        return Read(scores, ranked, min(listed, key=lambda name: (-known.posterior[name], name), default=""))

    def diagnose(self, scores: Mapping[str, float], model: str, findings: Sequence[Finding] = ()) -> Diagnosis:
        """The belief after the findings."""
        return diagnosis.diagnose(
            scores, self._entries_counted(model), self._index.entry, lambda slug: self.causes_counted(slug, model),
            findings, self._trusted, tuple(finding.test.partition("/")[0] for finding in findings),
        )  # fmt: skip

    def advise(self, known: Diagnosis, at: advice.Bench) -> Advice:
        """The next step."""
        return advice.advise(known, self._index.entry, at, self._trusted)

    def entry(self, slug: str) -> Entry | None:
        """The entry of that slug."""
        return self._index.entry(slug)

    def _causes_counted(self, slug: str, model: str) -> Counts:
        return tally.of_causes(self._index.connection, slug, model)

    def _trusted(self, entry: Entry, test: Test) -> Test:
        key = (entry.slug, test.slug)
        if key not in self._records:
            record = tally.of_test(self._index.connection, entry, test)
            self._records[key] = learned(test.reliability, record.right, record.wrong)
        return replace(test, reliability=self._records[key])
