"""The standing records: those that were neither struck nor belong to a retracted job, and what they say of models."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from kb.history import kinds
from kb.history.intake import tag_key
from kb.history.record import Record
from kb.history.units import body_of


def standing(records: Iterable[Record]) -> list[Record]:
    """The records that count, in their order; raises UnreadableRecord for one that cannot be read."""
    told = list(records)
    struck = {str(body_of(one).get("record", "")) for one in told if one.kind == kinds.STRUCK.name}
    retracted = {one.job for one in told if one.kind == kinds.RETRACT.name}
    retracted.discard("")  # a record of the floor belongs to no job
    return [one for one in told if one.id not in struck and one.job not in retracted]


def models_told(records: Iterable[Record]) -> Mapping[str, str]:
    """The model of each machine by the key of its tag, as told last; what arrivals say wins over jobs."""
    told = list(records)
    return {tag: model for kind in (kinds.CLOSE, kinds.UNIT_IN) for tag, model in _models_in(told, kind)}


def _models_in(records: Iterable[Record], kind: kinds.Kind) -> Iterator[tuple[str, str]]:
    for record in records:
        if record.kind == kind.name:
            body = body_of(record)
            tag, model = str(body.get("unit") or body.get("tag") or ""), str(body.get("model", ""))
            if tag and model:
                yield tag_key(tag), model
