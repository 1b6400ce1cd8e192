"""The standing records: those that were neither struck nor belong to a retracted job, and what they say of models."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from kb.history import kinds
from kb.history.intake import tag_key
from kb.history.jobs import body_of
from kb.history.record import Record


def standing(records: Iterable[Record]) -> list[Record]:
    """The records that count, in their order; raises UnreadableRecord for one that cannot be read."""
    told = list(records)
    struck = struck_by(told)
    retracted = {one.job for one in told if one.kind == kinds.RETRACT.name}
    retracted.discard("")  # a record of the floor belongs to no job
    return [one for one in told if one.id not in struck and one.job not in retracted]


def struck_by(records: Iterable[Record]) -> frozenset[str]:
    """The ids of the records that others among these say to be wrong; raises UnreadableRecord."""
    strikes = [body_of(one) for one in records if one.kind == kinds.STRUCK.name]
    return frozenset(str(body.get("record", "")) for body in strikes)


def models_told(records: Iterable[Record]) -> Mapping[str, str]:
    """The model of each machine by the key of its tag, as told last; what arrivals say wins over jobs."""
    told = list(records)
    return _models_in(told, kinds.CLOSE, "unit") | _models_in(
        told, kinds.UNIT_IN, "tag"
    )


def _models_in(
    records: Iterable[Record], kind: kinds.Kind, tagged: str
) -> dict[str, str]:
    """The models that records of a kind name, by the tag that stands under that name beside them."""
    models = {}
    for body in [body_of(record) for record in records if record.kind == kind.name]:
        tag, model = str(body.get(tagged) or ""), str(body.get("model", ""))
        if tag and model:
            models[tag_key(tag)] = model
    return models
