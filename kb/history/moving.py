"""Records for moving a history, as JSON Lines: those of the floor and pictures of jobs; to others, fits and merges."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from kb.base.trouble import Refusal
from kb.base.worded import worded
from kb.history import History, intake, kinds
from kb.history.kinds import Kind
from kb.history.recall import Recall
from kb.history.record import TAKEN_IN, Record
from kb.history.same import folded
from kb.history.trouble import NotAccepted
from kb.model import Remark

_FLOOR = {kind.name: kind for kind in kinds.OF_THE_FLOOR}
_PICTURES = {kind.name: kind for kind in (kinds.PICTURE, kinds.PICTURE_BACK)}
_MOVED = _FLOOR | _PICTURES
#: Where a body names a picture of a machine or job, and which of the two it shows.
_NAMED = re.compile(r"\b(?P<shows>machine|job)-[0-9a-f]{16}-1\.jpg\b")
#: Gives the JPEG of that name, None if there is none; puts one that shows a machine or a job into the album, by name.
Fetch = Callable[[str], bytes | None]
Keep = Callable[[str, bytes], str]
Other = TypeVar("Other")
#: What a line must say, since it cannot be taken in without.
_ASKED_FOR: Mapping[str, tuple[str, ...]] = {
    kinds.MOVED_IN.name: ("shop",),
    kinds.SAME_MODEL.name: ("model", "as"),
    kinds.STRUCK.name: ("record",),
    kinds.PICTURE_BACK.name: ("record",),
}
#: What a fit keeps to itself when it goes to other shops: the machine on which it was tried.
_OWN = ("source",)


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorLine:
    """A line that was read: its number, the kind of record, its job and body, and the id that the record had.

    `origin` is the id that it had first, if it had come from elsewhere; `picture` is the file that the body names, if
    it came along.
    """

    number: int
    kind: Kind
    job: str
    body: Mapping[str, object]
    record: str
    origin: str = ""
    picture: bytes = b""

    @property
    def ids(self) -> tuple[str, ...]:
        """The ids by which it may be known, that which it had first before the other."""
        return tuple(filter(None, (self.origin, self.record)))


def floor_line(
    record: Record, without: Collection[str] = (), picture: bytes | None = None
) -> str:
    """A record of the floor, or a picture of a job, as one line of JSON without its line end."""
    body = {
        key: value
        for key, value in json.loads(record.body).items()
        if key not in without
    }
    content = {
        "kind": record.kind,
        "record": record.id,
        "job": record.job,
        "at": record.at,
        "body": body,
    }
    content["origin"] = record.origin
    content["picture"] = base64.b64encode(picture or b"").decode()
    return json.dumps(
        {key: value for key, value in content.items() if value}, ensure_ascii=True
    )


def picture_named(record: Record) -> str:
    """The picture of a machine or job that the body of a record names, empty if it names none."""
    body = json.loads(record.body)
    named = _NAMED.search(str(body.get("file") or body.get("text")))
    return named[0] if named else ""


def jobs_pictures(history: Recall, fetch: Fetch) -> Iterator[str]:
    """A line for each picture of a closed job, and for each that was taken back there; its file comes if it stands."""
    put = list(history.records_since(0, kinds.PICTURE.name))
    back = list(history.records_since(0, kinds.PICTURE_BACK.name))
    gone = {json.loads(record.body)["record"] for record in back}
    closed = (
        {job.job for job in history.closed_jobs(include_retracted=True)}
        if put
        else set()
    )
    for record in (*put, *back):
        if record.job in closed:
            named = "" if record.id in gone else picture_named(record)
            yield floor_line(record, picture=fetch(named) if named else None)


def own_shop_line(shop: str) -> str:
    """The line by which it is told whose history is moved, so that its jobs are those of the machines that move."""
    return json.dumps(
        {"kind": kinds.MOVED_IN.name, "body": {"shop": shop}}, ensure_ascii=True
    )


def told_to_others(history: Recall) -> Iterator[str]:
    """A line for each merge of models and each fit that stands, fits without the machine on which they were tried.

    Those that jobs teach are in `taught_fits`.
    """
    struck = {
        json.loads(record.body).get("record")
        for record in history.records_since(0, kinds.STRUCK.name)
    }
    for kind in (kinds.SAME_MODEL, kinds.FIT):
        for record in history.records_since(0, kind.name):
            if record.id not in struck:
                yield floor_line(record, _OWN)


def is_of_the_floor(record: Record) -> bool:
    """Whether a record tells of machines, lots or parts."""
    return record.kind in _FLOOR


def read_floor(content: Mapping[str, object], number: int) -> FloorLine:
    """The record that a line holds, of the floor or of a picture; raises NotAccepted for what it cannot be."""
    kind = _MOVED.get(str(content.get("kind")))
    body = content.get("body")
    if kind is None:
        raise NotAccepted(
            f"nothing is known of records of the kind {str(content.get('kind'))[:40]}",
            "leave it out",
        )
    if not isinstance(body, dict):
        raise NotAccepted(
            "the body is not a JSON object",
            "write what benchlore export --everything writes",
        )
    try:
        kept = kind.kept(dict.fromkeys(_ASKED_FOR.get(kind.name, ()), "") | body)
    except TypeError as error:
        raise NotAccepted(str(error), "leave that out") from error
    try:
        picture = base64.b64decode(str(content.get("picture", "")), validate=True)
    except ValueError as error:
        # what is not in base64, and what is not even in its letters
        raise NotAccepted(
            "the picture is not in base64",
            "write what benchlore export --everything writes",
        ) from error
    job, record, origin = (
        intake.clean(str(content.get(name, ""))) for name in ("job", "record", "origin")
    )
    return FloorLine(
        number=number,
        kind=kind,
        job=job,
        body=kept,
        record=record,
        origin=origin,
        picture=picture,
    )


def with_pictures(
    history: History, lines: Sequence[FloorLine | Other | Remark], keep: Keep, file: str
) -> list[FloorLine | Other | Remark]:
    """The lines, after the pictures that came with them were put into the album; one that is refused is a remark.

    A picture is drawn anew on its way in, so that its file has another name, which the line has then. Nothing is put
    anywhere for a record that is here already.
    """
    kept: list[FloorLine | Other | Remark] = []
    for line in lines:
        try:
            wanted = (
                isinstance(line, FloorLine)
                and line.picture
                and not _is_here(history, line)
            )
            kept.append(
                _with_picture(line, keep)
                if isinstance(line, FloorLine) and wanted
                else line
            )
        except Refusal as refusal:
            told = "draw that picture anew, or leave it out"
            kept.append(
                Remark(
                    file,
                    line.number if isinstance(line, FloorLine) else 0,
                    str(refusal),
                    told,
                )
            )
    return kept


def _with_picture(line: FloorLine, keep: Keep) -> FloorLine:
    """The line with the name that its picture has in this album; the picture of a line that names none is left."""
    key = "file" if "file" in line.body else "text"
    told = str(line.body.get(key))
    named = _NAMED.search(told)
    if named is None:
        return line
    return replace(
        line,
        body={
            **line.body,
            key: told.replace(named[0], keep(named["shows"], line.picture)),
        },
    )


def own_models(history: History) -> frozenset[str]:
    """The names of models, folded, under which this shop itself has a job or a machine, as it wrote them."""
    named = set()
    for kind in (kinds.OPEN, kinds.CLOSE, kinds.UNIT_IN):
        for record in history.as_written().records_since(0, kind.name):
            if record.shop == history.shop:
                named.add(folded(str(json.loads(record.body).get("model", ""))))
    return frozenset(named)


def refused_merge(
    history: History, line: FloorLine, own: Collection[str]
) -> NotAccepted | None:
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
            worded(
                "elsewhere {name} is the same as {kept}, but here it has jobs or machines",
                name=name,
                kept=kept,
            ),
            worded(
                'if it is the same here, say so: benchlore same "{name}" "{kept}"',
                name=name,
                kept=kept,
            ),
        )
    try:
        same.checked(name, kept)
    except NotAccepted as refusal:
        return refusal
    return None


def take_floor(history: History, line: FloorLine, origins: Mapping[str, str]) -> bool:
    """Take in a record of the floor or of a picture; false if it is here already, or its job is not.

    What strikes another one, or takes it back, does so here too: `origins` tells what the ids of its file had been
    first, where that was elsewhere.
    """
    if _is_here(history, line) or (
        line.kind.about == "job" and history.find_job(line.job) is None
    ):
        return False
    body = dict(line.body)
    if line.kind in (kinds.STRUCK, kinds.PICTURE_BACK):
        struck = str(body["record"])
        moved = history.written_with(
            _token(origins.get(struck, struck))
        ) or history.written_with(_token(struck))
        body["record"] = moved.id if moved else body["record"]
    history.note(line.kind, line.job, body, _token(line.ids[0]) if line.ids else "")
    return True


def take_shop(history: History, shop: str) -> bool:
    """Note that the jobs of a shop are this shop's own, since its folder was moved here; false if it is known."""
    known = {
        json.loads(one.body)["shop"]
        for one in history.records_since(0, kinds.MOVED_IN.name)
    }
    if shop in known | {history.shop}:
        return False
    history.note(kinds.MOVED_IN, "", {"shop": shop})
    return True


def _is_here(history: History, line: FloorLine) -> bool:
    """Whether the record of a line is in the history already."""
    return any(
        history.written_with(_token(known)) or history.holds(known)
        for known in line.ids
    )


def _token(record: str) -> str:
    return f"{TAKEN_IN}{record}"[:200]
