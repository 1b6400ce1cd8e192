"""Which names mean the same model, as records say; whatever is read of the history is told with the names kept."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from kb.base.worded import worded
from kb.history import kinds
from kb.history.jobs import body_of
from kb.history.record import Record, canonical
from kb.history.standing import struck_by
from kb.history.trouble import NotAccepted, UnreadableRecord
from kb.history.units import is_unknown

#: The fields of a record's body that name a model.
_FIELDS = ("model", "from_model", "to_model")
#: The kinds of record that name models, each with those of its fields.
_NAMING: Mapping[str, tuple[str, ...]] = {
    name: tuple(one for one in _FIELDS if one in kind.body)
    for name, kind in kinds.KINDS.items()
    if kind is not kinds.SAME_MODEL
}


@dataclass(frozen=True, slots=True)
class Merge:
    """That a name is counted as another one, and the id of the record that says so."""

    name: str
    kept: str
    record: str = ""


class SameModels:
    """The names that are counted as another one; of names only case and blanks around them do not matter.

    A name is counted as what its first merge says, and a merge that would lead round in a ring says nothing.

    >>> same = SameModels([Merge("Tern13", "Tern-13"), Merge("Tern-13", "Tern 13"), Merge("Tern 13", "Tern13")])
    >>> same.kept("TERN13"), same.kept("Tern 13"), same.kept("Skua 14"), same.others("tern 13")
    ('Tern 13', 'Tern 13', 'Skua 14', ('Tern13', 'Tern-13'))
    """

    def __init__(self, merges: Iterable[Merge] = ()) -> None:
        self._next: dict[str, Merge] = {}
        for merge in merges:
            if folded(merge.name) not in self._next and folded(
                self.kept(merge.kept)
            ) != folded(merge.name):
                self._next[folded(merge.name)] = merge
        self.merges = tuple(self._next.values())

    def __bool__(self) -> bool:
        """Whether any name is counted as another one."""
        return bool(self._next)

    def kept(self, model: str) -> str:
        """The name under which a model is counted, itself unless a merge says otherwise; chains are followed."""
        while merge := self._next.get(folded(model)):
            model = merge.kept
        return model

    @property
    def by_name(self) -> Mapping[str, str]:
        """Every name (folded) that is counted as another one, with that one."""
        return {name: self.kept(name) for name in self._next}

    def is_settled(self, model: str) -> bool:
        """Whether somebody said what a name means, or that another one means it."""
        return folded(model) in self._next or any(
            folded(merge.kept) == folded(model) for merge in self.merges
        )

    def others(self, model: str) -> tuple[str, ...]:
        """The names that are counted as this one."""
        return tuple(
            merge.name
            for merge in self.merges
            if folded(self.kept(merge.name)) == folded(model)
        )

    def merge_of(self, name: str) -> Merge | None:
        """What says that a name is counted as another one, None for one that stands for itself."""
        return self._next.get(folded(name))

    def meant(self, record: Record) -> Record:
        """The record with the names kept in place of those it was written with; its seal is that of the written one.

        One that cannot be read stays as it is.
        """
        fields = _NAMING.get(record.kind, ()) if self._next else ()
        if not fields:
            return record
        try:
            body = body_of(record)
        except UnreadableRecord:
            return record
        kept = {
            field: self.kept(str(body[field])) for field in fields if body.get(field)
        }
        turned = {field: name for field, name in kept.items() if name != body[field]}
        return replace(record, body=canonical(body | turned)) if turned else record

    def turned(self, now: SameModels) -> frozenset[str]:
        """The names, folded, under which something is counted by these merges and no more by those that stand now."""
        names = [merge.name for merge in (*self.merges, *now.merges)]
        return frozenset(
            folded(self.kept(name))
            for name in names
            if self.kept(name) != now.kept(name)
        )

    def checked(self, name: str, kept: str) -> Merge:
        """The merge of a name into another one; NotAccepted, with what to do, where it says nothing or contradicts."""
        name, kept = " ".join(name.split()), " ".join(kept.split())
        for one in (name, kept):
            if is_unknown(one):
                raise NotAccepted(
                    worded("`{name}` names no model", name=one),
                    worded("name the model that the machines are of"),
                )
        if folded(name) == folded(kept):
            raise NotAccepted(
                worded("{name} and {kept} are one name already", name=name, kept=kept),
                worded("case does not tell models apart"),
            )
        if folded(self.kept(name)) == folded(self.kept(kept)):
            raise NotAccepted(
                worded("{name} is already the same as {kept}", name=name, kept=kept),
                worded("nothing is to be done"),
            )
        if earlier := self.merge_of(name):
            raise NotAccepted(
                worded(
                    "{name} is the same as {kept} already",
                    name=earlier.name,
                    kept=earlier.kept,
                ),
                worded("take that back first, or merge {kept}", kept=self.kept(name)),
            )
        return Merge(name, kept)

    def to_json(self) -> str:
        """The merges as text, for an index that was made with them; empty for none."""
        return (
            json.dumps(
                [(merge.name, merge.kept, merge.record) for merge in self.merges]
            )
            if self._next
            else ""
        )

    @classmethod
    def from_json(cls, text: str) -> SameModels:
        """The merges that such a text holds.

        >>> SameModels.from_json(SameModels([Merge("Tern13", "Tern 13", "r1")]).to_json()).merges
        (Merge(name='Tern13', kept='Tern 13', record='r1'),)
        """
        return cls(Merge(*told) for told in json.loads(text)) if text else ALL_APART


def folded(model: str) -> str:
    """A model's name as names are compared: without case and blanks around it.

    >>> folded(" TERN 13 ")
    'tern 13'
    """
    return model.strip().casefold()


def same_told(records: Iterable[Record]) -> SameModels:
    """What merges among those records say, without those that were struck; raises UnreadableRecord."""
    told = list(records)
    struck = struck_by(told)
    merges = []
    for one in told:
        if one.kind == kinds.SAME_MODEL.name and one.id not in struck:
            body = body_of(one)
            merges.append(Merge(str(body["model"]), str(body["as"]), one.id))
    return SameModels(merges)


#: No two names mean one model.
ALL_APART = SameModels()
