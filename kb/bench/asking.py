"""The desk for asking: complaints answered, as typed, while typing, and with what was found."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from kb.bench.shop import Desk
from kb.diagnosis import answering
from kb.diagnosis.answer import Answer, Outline
from kb.diagnosis.answering import Complaint
from kb.diagnosis.case import UNTOUCHED, SoFar
from kb.index.connections import over_a_sound_index
from kb.language import named
from kb.language.nearest import nearest
from kb.model import Entry, Finding

#: So many entries at most are taken in before anybody asks for them.
MOST_WARMED = 500


@dataclass(frozen=True, slots=True)
class Look:
    """An answer with the entries of its next step and of its first picture; `named`: the model that its words name."""

    answer: Answer
    named: str
    entries: Mapping[str, Entry]


class AskingDesk(Desk):
    """Where complaints are answered."""

    @over_a_sound_index
    def search(
        self,
        text: str,
        model: str = "",
        *,
        findings: Sequence[Finding] = (),
        limit: int = 5,
        unfinished: bool = False,
        at: SoFar = UNTOUCHED,
    ) -> Answer:
        """The ranked answer to a complaint, with the belief after the findings and the next step.

        `unfinished` says that the last word is still being typed; `at` what was done and what the bench lacks,
        which is what the shop lacks unless it is said.
        """
        with self.shop.knowing() as knowledge:
            complaint = Complaint(
                text=text,
                model=knowledge.spelt(model),
                findings=findings,
                limit=limit,
                unfinished=unfinished,
                at=self._lacking(at),
            )
            return answering.answer(complaint, knowledge)

    @over_a_sound_index
    def outlines(self, complaints: Iterable[Complaint]) -> list[Outline]:
        """What the answers to complaints believe of causes, and their next steps, at a third of the cost of answers."""
        with self.shop.knowing() as knowledge:
            asked = (
                replace(one, model=knowledge.spelt(one.model), at=self._lacking(one.at))
                for one in complaints
            )
            return [answering.outline(one, knowledge) for one in asked]

    @over_a_sound_index
    def rank(self, text: str, model: str = "", *, limit: int = 5) -> answering.Ranking:
        """The order of the entries for a complaint, without causes, reasons or a next step."""
        with self.shop.knowing() as knowledge:
            return answering.ranking(
                Complaint(text=text, model=model, limit=limit), knowledge
            )

    @over_a_sound_index
    def look(self, text: str, model: str = "", unfinished: bool = False) -> Look:
        """The answer to a complaint as a page shows it; a model that the words name counts more than `model`."""
        with self.shop.knowing() as knowledge:
            written = named.model_in(text, knowledge.names_of_models())
            told = knowledge.spelt(written)
            at = self._lacking(UNTOUCHED)
            complaint = Complaint(
                text=text,
                model=told or knowledge.spelt(model),
                unfinished=unfinished,
                at=at,
            )
            answer = answering.answer(complaint, knowledge)
            if complaint.model and not unfinished:
                # what one model is known for makes no words fit, so that the verdict is the same for all models
                plain = Complaint(text=named.without(text, written))
                answer = replace(answer, fits=answering.ranking(plain, knowledge).fits)
            slugs = [one.entry for one in answer.entries[:1]]
            slugs += [answer.next_step.entry] if answer.next_step else []
            found = {slug: knowledge.entry(slug) for slug in slugs}
            entries = {slug: entry for slug, entry in found.items() if entry}
        return Look(answer, told, entries)

    @over_a_sound_index
    def models(self) -> list[str]:
        """The models in the history, most frequent first."""
        with self.shop.knowing() as knowledge:
            return knowledge.models()

    @over_a_sound_index
    def spelt(self, model: str) -> str:
        """A model as this shop writes it already, whatever its case, spaces and hyphens; a new one as it is given.

        One of which there are machines alone is written as these have it.
        """
        with self.shop.knowing() as knowledge:
            spelt = knowledge.spelt(model)
            if spelt in knowledge.models():
                return spelt
        return named.spelt(spelt, self._on_the_floor())

    def _on_the_floor(self) -> list[str]:
        """The models of which there are machines, by name."""
        with self.files.floor() as (index, _):
            return sorted(set(index.floor.models().values()))

    @over_a_sound_index
    def has_parts(self) -> bool:
        """Whether a part may be had here: a donor stands on the floor, or one was bought before."""
        with self.files.floor() as (index, _):
            return index.floor.has_parts()

    def new_model(self, model: str) -> str:
        """In words that no job was on this model yet, with the nearest that one was on; empty if there was one."""
        known = self.models()
        if not known or not self._is_new(model, known):
            return ""
        near = self.near_model(model)
        return f"no job on {model.strip()} yet{f'; nearest: {near}' if near else ''}"

    def near_model(self, model: str) -> str:
        """The known model that a new one may be meant for; empty for a known one and for one that is like none."""
        known = self.models()
        if not self._is_new(model, known):
            return ""
        here = self._on_the_floor()
        return "" if self.spelt(model) in here else nearest(model, [*known, *here])

    def warm(self) -> None:
        """Take in what searches compare with, entry by entry, so that the first ones are as quick as later ones.

        For a thread of its own. A large library is left to its searches.
        """
        with self.shop.beforehand():
            with self.shop.knowing() as knowledge:
                slugs = list(knowledge.index.slugs().values())
            for slug in slugs if len(slugs) <= MOST_WARMED else ():
                with self.shop.knowing() as knowledge:
                    if entry := knowledge.entry(slug):
                        knowledge.heard(entry)

    def _lacking(self, at: SoFar) -> SoFar:
        """The same with what the shop lacks, unless it says what is lacking."""
        return replace(at, lacks=self.shop.settings.lacks) if at.lacks is None else at

    def _is_new(self, model: str, known: Sequence[str]) -> bool:
        """Whether a model that is named is none of the known ones, however it is written."""
        spelt = self.spelt(model)
        return (
            bool(spelt)
            and spelt not in known
            and not self.shop.same_models().is_settled(spelt)
        )
