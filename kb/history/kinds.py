"""Every kind of record that this program writes, with what its body holds; kinds of others are kept and passed over."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Literal, get_args

from kb.history import intake
from kb.history.fields import BODY
from kb.model import WayOut

Reader = Callable[[Any], object]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of record: its name, what it is about, and for each key of its body what the history keeps of a value.

    `about` says which subject it may have: a job that is still open, any job there is, one that it makes by itself,
    or none of this history's jobs.
    """

    name: str
    about: Literal["open job", "job", "new job", "anything"]
    body: Mapping[str, Reader] = field(default_factory=dict)

    def kept(self, given: Mapping[str, object]) -> dict[str, object]:
        """The body in the form the history keeps; raises NotAccepted for a value that it does not take.

        >>> RETRACT.kept({"why": " it was the cable ", "by": "Ada"})
        {'why': 'it was the cable', 'by': 'Ada'}
        """
        unknown = given.keys() - self.body.keys()
        if unknown:
            raise TypeError(
                f"a record of kind {self.name} has no {', '.join(sorted(unknown))}"
            )
        return {key: self.body[key](value) for key, value in given.items()}


def _truth(given: object) -> bool:
    return bool(given)


OPEN = Kind(
    "open",
    "new job",
    {
        "model": partial(intake.name, what="model"),
        "unit": partial(intake.name, what="unit"),
        "words": intake.words,
    },
)
FINDING = Kind(
    "finding",
    "open job",
    {
        "test": partial(intake.required, what="test"),
        "outcome": partial(intake.words, what="outcome"),
    },
)
FAILED_FIX = Kind("fixtried", "open job", {"fix": partial(intake.required, what="fix")})
SKIP = Kind(
    "skip", "open job", {"test": partial(intake.required, what="test"), "skip": _truth}
)
TAKE_BACK = Kind(
    "takeback", "open job", {"record": partial(intake.required, what="record")}
)
NOTE = Kind(
    "note", "job", {"text": intake.note, "by": partial(intake.name, what="name")}
)
#: How a machine on the bench looked; the file is in the album. It may be taken back, whatever became of the job.
PICTURE = Kind(
    "picture",
    "job",
    {
        "file": intake.picture,
        "caption": partial(intake.name, what="caption"),
        "of": intake.picture,  # what the marks on it are drawn on
        "by": partial(intake.name, what="name"),
    },
)
PICTURE_BACK = Kind(
    "picture-back",
    "job",
    {
        "record": partial(intake.required, what="record"),
        "by": partial(intake.name, what="name"),
    },
)
CLOSE = Kind("close", "job", {field.name: field.take for field in BODY})
RETRACT = Kind(
    "retract", "job", {"why": intake.reason, "by": partial(intake.name, what="name")}
)
#: The jobs among the records from that number up to this one came in together, out of one file.
IMPORTED = Kind(
    "imported",
    "anything",
    {
        "file": partial(intake.name, what="file"),
        "first": partial(intake.count, what="number of a record", most=10**11),
        "jobs": intake.count,
    },
)
NO_FIT = Kind(
    "no-fit",
    "anything",
    {"words": intake.words, "model": partial(intake.name, what="model")},
)


def _name(what: str) -> Reader:
    return partial(intake.name, what=what)


def _needed(what: str) -> Reader:
    return partial(intake.required, what=what)


# The floor: machines, lots, parts. Each names its machine by tag; a job stands in a record's column only where the
# record belongs to one.

LOT = Kind(
    "lot",
    "anything",
    {
        "lot": _needed("lot"),
        "bought_on": partial(intake.day, what="day of purchase"),
        "seller": _name("seller"),
        "cents": intake.cents,
        "freight_cents": partial(intake.cents, what="freight"),
        "claimed": partial(intake.count, what="number of machines"),
        "note": intake.note,
    },
)
#: A machine came in; a later one for the same tag corrects it.
UNIT_IN = Kind(
    "unit-in",
    "anything",
    {
        "tag": intake.tag,
        "model": _name("model"),
        "lot": _name("lot"),
        "words": intake.words,
        "place": _name("place"),
        "look": _name("look"),
        "serial": _name("serial"),
    },
)
UNIT_MOVED = Kind(
    "unit-moved", "anything", {"tag": intake.tag, "place": _name("place")}
)
#: A note, or a picture with its words as a text names it; `of` is what the marks on that picture are drawn on.
UNIT_NOTE = Kind(
    "unit-note",
    "anything",
    {"tag": intake.tag, "text": intake.note, "of": intake.picture, "by": _name("name")},
)
HANDED = Kind(
    "handed",
    "anything",
    {"tag": intake.tag, "to": _needed("initials"), "by": _name("name")},
)
#: What one line of the check-out list showed, on arrival or later.
FUNCTION = Kind(
    "function",
    "anything",
    {
        "tag": intake.tag,
        "line": _needed("line"),
        "shown": intake.one_of("good", "bad", "waived", "not-there"),
        "why": intake.note,
        "value": _name("value"),
        "by": _name("name"),
    },
)
PART_WANTED = Kind(
    "part-wanted", "anything", {"tag": intake.tag, "part": _needed("part")}
)
PART_BOUGHT = Kind(
    "part-bought",
    "anything",
    {
        "purchase": _needed("purchase"),
        "part": _needed("part"),
        "model": _name("model"),
        "count": intake.count,
        "cents": intake.cents,
        "for": _name("tag"),
        "bought_on": partial(intake.day, what="day of purchase"),
    },
)
#: Pieces of a purchase came; where a machine waited for one, that is its tag, and it waits no longer.
PART_IN = Kind(
    "part-in",
    "anything",
    {
        "purchase": _needed("purchase"),
        "count": intake.count,
        "part": _name("part"),
        "tag": _name("tag"),
        "came_on": partial(intake.day, what="day on which it came"),
    },
)
PART_OUT = Kind(
    "part-out",
    "anything",
    {
        "donor": intake.tag,
        "part": _needed("part"),
        "tag": _name("tag"),
        "good": intake.one_of("yes", "no", "unknown"),
    },
)
#: What is known of a part of one model fitting another.
FIT = Kind(
    "fit",
    "anything",
    {
        "part": _needed("part"),
        "from_model": _needed("model"),
        "to_model": _needed("model"),
        "shown": intake.one_of("worked", "failed", "claimed"),
        "why": _name("reason"),
        "source": _name("source"),
    },
)
#: A model's name means the model of another name; struck, it means its own again.
SAME_MODEL = Kind(
    "same-model", "anything", {"model": _needed("model"), "as": _needed("model")}
)
DONOR = Kind("donor", "anything", {"tag": intake.tag, "why": intake.note})
UNDONOR = Kind("undonor", "anything", {"tag": intake.tag, "why": intake.note})
SIGNED = Kind(
    "signed",
    "anything",
    {
        "tag": intake.tag,
        "by": _needed("initials"),
        "look": intake.note,
        "wear": _name("wear"),
        "wipe": intake.note,
        "open": intake.note,
        "list": _name("list"),
    },
)
GONE = Kind(
    "gone",
    "anything",
    {"tag": intake.tag, "how": intake.one_of(*get_args(WayOut)), "cents": intake.cents},
)
#: The jobs of that shop are this shop's own from here on: its folder was moved into this one.
MOVED_IN = Kind("moved-in", "anything", {"shop": _needed("shop")})
#: A record of the floor, named by its id, was wrong; it is left out of everything.
STRUCK = Kind("struck", "anything", {"record": _needed("record"), "why": intake.reason})
#: Whether somebody works on a job from now on, or has left it and why.
CLOCK = Kind(
    "clock",
    "open job",
    {"shown": intake.one_of("on", "off"), "why": _name("reason"), "by": _name("name")},
)

#: What tells of jobs, and what tells of machines, lots and parts.
OF_JOBS = (
    OPEN,
    FINDING,
    FAILED_FIX,
    SKIP,
    TAKE_BACK,
    NOTE,
    PICTURE,
    PICTURE_BACK,
    CLOCK,
    CLOSE,
    RETRACT,
    NO_FIT,
    IMPORTED,
)
OF_THE_FLOOR = (
    LOT,
    UNIT_IN,
    UNIT_MOVED,
    UNIT_NOTE,
    HANDED,
    FUNCTION,
    PART_WANTED,
    PART_BOUGHT,
    PART_IN,
    PART_OUT,
    FIT,
    SAME_MODEL,
    DONOR,
    UNDONOR,
    SIGNED,
    GONE,
    STRUCK,
    MOVED_IN,
)
#: Those of the floor that other shops are told of; all others come by a move alone.
FOR_OTHERS = (SAME_MODEL, FIT)
#: The names of those others.
MOVED_ALONE = frozenset(kind.name for kind in OF_THE_FLOOR if kind not in FOR_OTHERS)
#: All of them by name.
KINDS: Mapping[str, Kind] = {kind.name: kind for kind in (*OF_JOBS, *OF_THE_FLOOR)}
#: The kinds that make a job exist: whatever else stands under an id is no job.
MAKE_A_JOB = (OPEN.name, CLOSE.name)
