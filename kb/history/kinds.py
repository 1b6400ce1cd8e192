"""Every kind of record that this program writes, with what its body holds; kinds of others are kept and passed over."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Literal

from kb.history import intake
from kb.history.fields import BODY

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
            raise TypeError(f"a record of kind {self.name} has no {', '.join(sorted(unknown))}")
        return {key: self.body[key](value) for key, value in given.items()}


def _truth(given: object) -> bool:
    return bool(given)


OPEN = Kind(
    "open",
    "new job",
    {"model": partial(intake.name, what="model"), "unit": partial(intake.name, what="unit"), "words": intake.words},
)
FINDING = Kind(
    "finding",
    "open job",
    {"test": partial(intake.required, what="test"), "outcome": partial(intake.words, what="outcome")},
)
FAILED_FIX = Kind("fixtried", "open job", {"fix": partial(intake.required, what="fix")})
SKIP = Kind("skip", "open job", {"test": partial(intake.required, what="test"), "skip": _truth})
TAKE_BACK = Kind("takeback", "open job", {"record": partial(intake.required, what="record")})
NOTE = Kind("note", "job", {"text": intake.note, "by": partial(intake.name, what="name")})
CLOSE = Kind("close", "job", {field.name: field.take for field in BODY})
RETRACT = Kind("retract", "job", {"why": intake.reason, "by": partial(intake.name, what="name")})
NO_FIT = Kind("no-fit", "anything", {"words": intake.words, "model": partial(intake.name, what="model")})

#: All of them by name.
KINDS: Mapping[str, Kind] = {
    kind.name: kind for kind in (OPEN, FINDING, FAILED_FIX, SKIP, TAKE_BACK, NOTE, CLOSE, RETRACT, NO_FIT)
}
