"""Records of the floor as JSON Lines: all of them for moving a history; fits and merges of models for other shops."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from kb.base.worded import worded
from kb.history import History, kinds
from kb.history.kinds import Kind
from kb.history.recall import Recall
from kb.history.record import Record
from kb.history.same import folded
from kb.history.trouble import NotAccepted

_FLOOR = {kind.name: kind for kind in kinds.OF_THE_FLOOR}
#: What a fit keeps to itself when it goes to other shops: the machine on which it was tried.
_OWN = ("source",)


@dataclass(frozen=True, slots=True)
class FloorLine:
    """A line that was read: its number, the kind of record, its job and body, and the id that the record had."""

    number: int
    kind: Kind
    job: str
    body: Mapping[str, object]
    record: str


def floor_line(record: Record, without: Collection[str] = ()) -> str:
    """A record of the floor as one line of JSON without its line end."""
    body = {key: value for key, value in json.loads(record.body).items() if key not in without}
    content = {"kind": record.kind, "record": record.id, "job": record.job, "at": record.at, "body": body}
    return json.dumps({key: value for key, value in content.items() if value}, ensure_ascii=True)


def told_to_others(history: Recall) -> Iterator[str]:
    """A line for each merge of models and each fit that stands, fits without the machine on which they were tried."""
    struck = {json.loads(record.body).get("record") for record in history.records_since(0, kinds.STRUCK.name)}
    for kind in (kinds.SAME_MODEL, kinds.FIT):
        for record in history.records_since(0, kind.name):
            if record.id not in struck:
                yield floor_line(record, _OWN)


def is_of_the_floor(record: Record) -> bool:
    """Whether a record tells of machines, lots or parts."""
    return record.kind in _FLOOR


def read_floor(content: Mapping[str, object], number: int) -> FloorLine:
    """The record of the floor that a line holds; raises NotAccepted for what it cannot be."""
    kind = _FLOOR.get(str(content.get("kind")))
    body = content.get("body")
    if kind is None:
        raise NotAccepted(f"nothing is known of records of the kind {str(content.get('kind'))[:40]}", "leave it out")
    if not isinstance(body, dict):
        raise NotAccepted("the body is not a JSON object", "write what benchlore export --everything writes")
    try:
        kept = kind.kept(body)
    except TypeError as error:
        raise NotAccepted(str(error), "leave that out") from error
    return FloorLine(number, kind, str(content.get("job", "")), kept, str(content.get("record", "")))


def own_models(history: History) -> frozenset[str]:
    """The names of models, folded, under which this shop itself has a job or a machine, as it wrote them."""
    named = set()
    for kind in (kinds.OPEN, kinds.CLOSE, kinds.UNIT_IN):
        for record in history.as_written().records_since(0, kind.name):
            if record.shop == history.shop:
                named.add(folded(str(json.loads(record.body).get("model", ""))))
    return frozenset(named)


def refused_merge(history: History, line: FloorLine, own: Collection[str]) -> NotAccepted | None:
    """Why a merge of models that comes from elsewhere is not taken in; None for one that is, or is known.

    One is never taken that would merge what this shop has told apart: a name of which it has jobs or machines, which
    `own` gives folded, is merged at its own word alone.
    """
    name, kept = str(line.body["model"]), str(line.body["as"])
    same = history.same_models()
    if folded(same.kept(name)) == folded(same.kept(kept)) or _is_here(history, line):
        return None
    if folded(name) in own:
        return NotAccepted(
            worded("elsewhere {name} is the same as {kept}, but here it has jobs or machines", name=name, kept=kept),
            worded('if it is the same here, say so: benchlore same "{name}" "{kept}"', name=name, kept=kept),
        )
    try:
        same.checked(name, kept)
    except NotAccepted as refusal:
        return refusal
    return None


def take_floor(history: History, line: FloorLine) -> bool:
    """Take in a record of the floor; false if it is here already. What strikes another one strikes it here too."""
    token = _token(line.record)
    if _is_here(history, line):
        return False
    body = dict(line.body)
    if line.kind is kinds.STRUCK:
        moved = history.written_with(_token(str(body["record"])))
        body["record"] = moved.id if moved else body["record"]
    history.note(line.kind, line.job, body, token if line.record else "")
    return True


def _is_here(history: History, line: FloorLine) -> bool:
    """Whether the record of a line is in the history already."""
    return bool(line.record and (history.written_with(_token(line.record)) or history.holds(line.record)))


def _token(record: str) -> str:
    return f"from {record}"[:200]
