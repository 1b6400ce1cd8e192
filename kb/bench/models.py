"""The desk for the names of models: which are the same, said by a record that can be taken back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from kb.base.trouble import NotThere, Refusal
from kb.base.worded import worded
from kb.bench.asking import AskingDesk
from kb.bench.shop import Desk
from kb.history import kinds
from kb.history.intake import clean
from kb.history.jobs import OpenJob
from kb.history.same import Merge, folded
from kb.history.units import is_unknown
from kb.index.connections import over_a_sound_index
from kb.language import named
from kb.language.nearest import nearest


@dataclass(frozen=True, slots=True, kw_only=True)
class Moving:
    """What a merge moves to the name that is kept: closed jobs, jobs on the bench, and machines."""

    merge: Merge
    jobs: int
    open_jobs: int
    machines: int


class ModelDesk(Desk):
    """Where it is said that two names mean the same model; nothing that was written down is changed by it."""

    @over_a_sound_index
    def known(self) -> tuple[str, ...]:
        """Every model of which there is a job or a machine, as it is counted; those with most closed jobs first."""
        closed = AskingDesk(self.shop).models()
        with self.files.floor() as (index, _):
            others = [
                *(job.model for job in self._open_jobs()),
                *index.floor.model_names(),
            ]
        held: dict[str, str] = {}
        for name in (*closed, *sorted(others)):
            held.setdefault(folded(name), name)
        return tuple(name for name in held.values() if not is_unknown(name))

    def merges(self) -> tuple[Merge, ...]:
        """The names that are counted as another one, in the order in which that was said."""
        return self.shop.same_models().merges

    def others(self, model: str) -> tuple[Merge, ...]:
        """The names that are counted as this model."""
        same = self.shop.same_models()
        return tuple(
            merge
            for merge in same.merges
            if folded(same.kept(merge.name)) == folded(same.kept(model))
        )

    def alike(self, known: Iterable[str] | None = None) -> tuple[tuple[str, ...], ...]:
        """The models, or those of these, that differ in case, spaces and hyphens alone; each name together."""
        return tuple(named.alike(self.known() if known is None else known))

    @over_a_sound_index
    def moving(self, name: str, kept: str) -> Moving:
        """What would be counted under the other name; nothing is saved. Raises Refusal where that cannot be."""
        merge = self._checked(name, kept)
        open_jobs = sum(
            1 for job in self._open_jobs() if folded(job.model) == folded(merge.name)
        )
        with self.files.floor() as (index, _):
            machines = len(index.floor.named([folded(merge.name)]))
        with self.shop.knowing() as knowledge:
            jobs = knowledge.index.jobs.on_model(merge.name)
        return Moving(merge=merge, jobs=jobs, open_jobs=open_jobs, machines=machines)

    def merge(self, name: str, kept: str, token: str = "") -> Moving:
        """Say that a name means the same model as another one, under which all of it is counted from now on."""
        history = self.shop.history()
        with history.together():
            if written := history.written_with(token):
                merge = self.shop.same_models().merge_of(name) or Merge(
                    name, kept, written.id
                )
                return Moving(merge=merge, jobs=0, open_jobs=0, machines=0)
            moving = self.moving(name, kept)
            body = {"model": moving.merge.name, "as": moving.merge.kept}
            history.note(kinds.SAME_MODEL, "", body, token)
        return moving

    def part(self, name: str, why: str = "", token: str = "") -> Merge:
        """Take back what was said of a name: it means a model of its own again."""
        history = self.shop.history()
        with history.together():
            merge = history.same_models().merge_of(clean(name))
            if merge is None:
                raise NotThere(
                    worded(
                        "{name} is not counted as another model; there is nothing to take back",
                        name=clean(name).strip()[:60],
                    )
                )
            body = {"record": merge.record, "why": why or "they are two models"}
            history.note(kinds.STRUCK, "", body, token)
        return merge

    def _checked(self, name: str, kept: str) -> Merge:
        """The merge with both names as the shop spells them; the kept one has to be known."""
        known = self.known()
        spelt = {folded(one): one for one in known}
        merge = self.shop.history().same_models().checked(clean(name), clean(kept))
        found = spelt.get(folded(self.shop.same_models().kept(merge.kept)))
        if found is None:
            near = nearest(merge.kept, known)
            instead = (
                worded("did you mean {near}?", near=near)
                if near
                else worded("name a model that was here")
            )
            raise Refusal(
                worded(
                    "no job and no machine is of a {kept}; {instead}",
                    kept=merge.kept[:60],
                    instead=instead,
                )
            )
        return Merge(spelt.get(folded(merge.name), merge.name), found)

    def _open_jobs(self) -> tuple[OpenJob, ...]:
        return self.shop.if_usable(lambda history: history.open_jobs(), ())
