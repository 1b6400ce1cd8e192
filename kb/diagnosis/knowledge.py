"""The knowledge that a complaint is answered with: entries, counts, shares and trust in tests, for one model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from kb.diagnosis import against, beyond, causes, counts, urgent, wordings
from kb.diagnosis.answer import EntryBelief
from kb.diagnosis.belief import learned
from kb.diagnosis.causes import Counts, Diagnosis, Weighed
from kb.diagnosis.counts import ALIKE, Ageing, Confirmed
from kb.diagnosis.recall import NOTHING, Recalled, recalled
from kb.history.same import SameModels, folded
from kb.index.elsewhere import Elsewhere
from kb.index.index import JOBS_SAME, Index
from kb.index.remembered import Kept
from kb.index.taught import told_elsewhere
from kb.language import named
from kb.language.words import Lexicon, stem
from kb.library.customs import Customs
from kb.model import Entry, Fix, Test

#: What is counted where nothing was confirmed yet.
NO_JOBS = Counts()


#: So many complaints under which an entry was confirmed are read for the reasons of an answer, chosen by so many words.
MOST_HEARD, MOST_STEMS = 40, 20

#: A fit that leaves no other entry in question.
CERTAIN = 50.0


@dataclass(frozen=True, slots=True)
class OneEntry:
    """Knowledge of one entry alone, with the shares of its causes; its tests are believed as they claim."""

    alone: Entry
    shares_known: Mapping[str, float]
    counts: Counts = NO_JOBS

    def entry(self, slug: str) -> Entry | None:
        """The entry if it has that slug, or None."""
        return self.alone if slug == self.alone.slug else None

    def shares(self, entry: Entry) -> Mapping[str, float]:  # noqa: ARG002 - there is but one
        """The shares of its causes."""
        return self.shares_known

    def trusted(self, entry: Entry, test: Test) -> Test:  # noqa: ARG002 - nothing was learned of any
        """The test as its entry claims."""
        return test


@dataclass(frozen=True, slots=True)
class Ways:
    """The ways of a shop as they weigh in its beliefs: how old jobs fade, and whether its machines come from pallets.

    `elsewhere` says whether other shops are believed at all. `customs` are its standard acts and cautions, None where
    nobody asks for them.
    """

    ageing: Ageing = ALIKE
    pallet: bool = False
    customs: Customs | None = None
    elsewhere: bool = True


USUAL = Ways()


class ShopKnowledge:
    """What a shop knows, out of its index while that is being read; all of it is remembered until the index changes.

    `ways` are those of the shop; `model` is the name that is kept, whatever name was given, and `same` tells
    which names mean one model, as of when jobs were taken in.
    """

    def __init__(
        self, index: Index, lexicon: Lexicon, model: str = "", ways: Ways = USUAL
    ) -> None:
        self.index = index
        self.lexicon = lexicon
        self.same = index.remembered.get(
            Kept.SAME, lambda: SameModels.from_json(index.about(JOBS_SAME))
        )
        self.model = self.same.kept(model)
        self.ways = ways

    def on(self, model: str) -> ShopKnowledge:
        """The same of another model."""
        return ShopKnowledge(self.index, self.lexicon, model, self.ways)

    @property
    def counts(self) -> Counts:
        """Confirmed jobs by entry, on the model and on all others."""
        return self._confirmed.entries

    def counts_of(self, slug: str) -> Counts:
        """Confirmed jobs of an entry by cause, on the model and on all others."""
        own, other_shops = (
            self._confirmed.causes.get(slug, NO_JOBS),
            self._elsewhere.get(slug),
        )
        return (
            replace(own, beyond=beyond.of_causes(other_shops)) if other_shops else own
        )

    def entry(self, slug: str) -> Entry | None:
        """The entry of that slug, or None."""
        return self.index.entry(slug)

    def shares(self, entry: Entry) -> Mapping[str, float]:
        """The share of each cause of an entry on the model, by the entry's own weights and the confirmed jobs."""
        return self._weighed(entry).shares

    def _weighed(self, entry: Entry) -> Weighed:
        def load() -> Weighed:
            jobs, pooling = self.counts_of(entry.slug), self.index.taught.pooling
            if pooling is None or not entry.causes:
                return Weighed(
                    causes.cause_shares(entry, jobs, self.ways.pallet),
                    jobs,
                    self.ways.pallet,
                )
            return causes.weighed_as_taught(
                entry,
                jobs,
                self._told_elsewhere(entry, jobs),
                pooling,
                self.ways.pallet,
            )

        key = (
            entry.slug,
            self.model.casefold(),
            self.ways.ageing,
            self.ways.pallet,
            self.ways.elsewhere,
        )
        return self.index.remembered.get(Kept.SHARES, load, *key)

    def _told_elsewhere(self, entry: Entry, jobs: Counts) -> dict[str, float]:
        """What the jobs on other models tell of an entry's causes; where old ones fade, as much less."""
        told = told_elsewhere(
            self.index.taught.by_model(entry.slug), folded(self.model)
        )
        whole, weighed = jobs.told.elsewhere, jobs.elsewhere
        return {
            cause: number * weighed[cause] / whole[cause]
            for cause, number in told.items()
            if cause in whole
        }

    def trusted(self, entry: Entry, test: Test) -> Test:
        """The test with the reliability that its past outcomes taught."""

        def load() -> dict[str, counts.TestRecord]:
            return counts.of_tests(self.index.jobs.shown_on(entry.slug), entry)

        record = self.index.remembered.get(Kept.TESTS, load, entry.slug).get(test.slug)
        if record is None:
            return test
        return replace(
            test, reliability=learned(test.reliability, record.right, record.wrong)
        )

    def of_entry(self, entry: Entry) -> EntryBelief:
        """What is believed of an entry that is the right one for certain, by history alone."""
        alone = causes.diagnose(
            {entry.slug: CERTAIN}, OneEntry(entry, self.shares(entry))
        )
        return self.belief_in(entry, alone)

    def belief_in(self, entry: Entry, diagnosis: Diagnosis) -> EntryBelief:
        """What is believed of an entry and its causes by a diagnosis, with the counts it rests on."""
        return causes.entry_belief(diagnosis, entry, self._weighed(entry), self.counts)

    def cautions_of(self, entry: Entry, step: Test | Fix) -> tuple[str, ...]:
        """The cautions of a step of an entry; all notes of the entry where the house has none."""
        customs = self.ways.customs
        return customs.cautions().of_step(entry, step) if customs else entry.safety

    def procedure_of(self, step: Test | Fix) -> tuple[str, ...]:
        """The steps of the house procedure to which a test or fix refers; none if there is none."""
        return (
            self.ways.customs.procedures().steps_of(step) if self.ways.customs else ()
        )

    def verbs(self) -> frozenset[str]:
        """The verbs with which fixes of this trade begin, beside those of any workshop."""
        return self.ways.customs.trade().verbs if self.ways.customs else frozenset()

    def cause_text(self, cause: str) -> str:
        """What a cause (`entry/cause`) says in its entry; one whose entry is gone is told by its name."""
        slug, _, name = cause.partition("/")
        entry = self.entry(slug)
        found = entry.cause(name) if entry else None
        return found.text if found else cause

    def models(self) -> list[str]:
        """The models in the history, most frequent first."""
        return self.index.remembered.get(Kept.MODELS, self.index.jobs.models)

    def names_of_models(self) -> list[str]:
        """The same, and after them the names that mean one of them."""
        return [*self.models(), *(merge.name for merge in self.same.merges)]

    def spelt(self, model: str) -> str:
        """A model by the name that is kept, whatever its case, spaces and hyphens; a new one as it is given."""
        return named.spelt(self.same.kept(model), self.models())

    def dangers(self) -> Mapping[str, urgent.Phrases]:
        """The words of danger of each entry that names any, by their stems."""

        def load() -> dict[str, urgent.Phrases]:
            said = self.index.sheets.dangers()
            return {
                slug: urgent.phrases(words, self.lexicon)
                for slug, words in said.items()
            }

        return self.index.remembered.get(Kept.DANGERS, load)

    def heard(
        self, entry: Entry, complaint: wordings.Said | None = None
    ) -> list[wordings.Said]:
        """What an entry's own texts tell of, and the complaints it was confirmed under that are most like this one."""

        def own() -> list[wordings.Said]:
            return [
                wordings.said(text, self.lexicon)
                for text in (*entry.wordings, *entry.symptoms, entry.title)
            ]

        heard = self.index.remembered.get(Kept.HEARD, own, entry.slug)
        if complaint is None:
            return heard
        stems = sorted({stem(typed) for typed, _, _ in complaint.words})[:MOST_STEMS]
        return [
            *heard,
            *map(
                self._said, self.index.spoken.most_like(entry.slug, stems, MOST_HEARD)
            ),
        ]

    def recalled(self, read_words: str) -> Recalled:
        """What came of these very words, as they are read, on the model; nothing if no model is told."""
        return (
            recalled(self.index.jobs.under(read_words, self.model))
            if self.model
            else NOTHING
        )

    def stated(self, number: int) -> tuple[against.Statement, ...]:
        """What the entry of that number states that speaks against it."""

        def load() -> tuple[against.Statement, ...]:
            entry = self.entry(self.index.slugs().get(number, ""))
            texts = entry.not_this_if if entry else ()
            return tuple(against.statement(text, self.lexicon) for text in texts)

        return self.index.remembered.get(Kept.STATED, load, number)

    def _said(self, text: str) -> wordings.Said:
        return self.index.remembered.get(
            Kept.SAID, lambda: wordings.said(text, self.lexicon), text
        )

    @property
    def _confirmed(self) -> Confirmed:
        ageing = self.ways.ageing

        def load() -> Confirmed:
            alike = self.index.jobs.alike(self.model, by_day=ageing.half_life_days > 0)
            library = set(self.index.slugs().values())
            return counts.confirmed(alike, ageing).beside(
                beyond.of_sheets(self._elsewhere, library)
            )

        key = (self.model.casefold(), ageing, self.ways.elsewhere)
        return self.index.remembered.get(Kept.CONFIRMED, load, *key)

    @property
    def _elsewhere(self) -> Mapping[str, Elsewhere]:
        """What other shops had of each sheet, and of it on the model; nothing where the shop does not ask for it."""
        return self.index.elsewhere.on(self.model) if self.ways.elsewhere else {}
