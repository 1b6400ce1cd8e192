"""The drawer: pieces that lie loose in the shop, from donors and by post, and which of them were used since."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from kb.history.intake import tag_key


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawerPiece:
    """Pieces of one part that lie in the drawer: of which model, how many, and where they came from.

    `origin` is the donor's tag or the purchase's name; `record` is that with which they were laid in, at `at`. `good`
    says whether a donor's piece was found good when it was taken out.
    """

    record: str
    part: str
    origin: str
    at: str
    model: str = ""
    count: int = 1
    is_bought: bool = False
    good: Literal["yes", "unknown"] = "unknown"

    @property
    def name(self) -> str:
        """What a list calls it."""
        return f"drawer {self.origin}"

    def serves(self, job: PieceFitted) -> bool:
        """Whether a job may have used a piece of these: of its part, and there when it was closed."""
        return self.part == job.part and self.count > 0 and self.at <= job.at


@dataclass(frozen=True, slots=True)
class PieceFitted:
    """A job that a part ended of which no donor is named: which part, into which machine (its tag's key) and model."""

    part: str
    tag: str
    model: str
    at: str


@dataclass(frozen=True, slots=True)
class PieceFetched:
    """A part that came for one machine (its tag's key), so that its job took none out of the drawer."""

    part: str
    tag: str


def left_in_drawer(
    laid_in: Iterable[DrawerPiece],
    fitted: Iterable[PieceFitted],
    fetched: Iterable[PieceFetched],
) -> tuple[DrawerPiece, ...]:
    """What is left of the pieces laid in, once jobs have used some: of the job's own model first, oldest first.

    A job whose part came for its machine took none, nor did one that was closed before anything lay there.

    >>> pack = DrawerPiece(record="a", part="battery", model="Tern 13", origin="B1", at="2026-03-01", count=2)
    >>> job = PieceFitted("battery", "p7-01", "Tern 13", "2026-03-04")
    >>> left_in_drawer([pack], [job], [])[0].count
    1
    >>> left_in_drawer([pack], [job], [PieceFetched("battery", "p7-01")])[0].count
    2
    """
    pieces = sorted(laid_in, key=lambda one: one.at)
    came = [(one.part, one.tag) for one in fetched]
    for one in sorted(fitted, key=lambda one: one.at):
        if (one.part, one.tag) in came:
            came.remove((one.part, one.tag))
        else:
            _use(pieces, one)
    return tuple(one for one in pieces if one.count > 0)


def _use(pieces: list[DrawerPiece], job: PieceFitted) -> None:
    """Take one piece out for a job: of its own model first, oldest first; none if none lay there then."""
    places = [place for place, one in enumerate(pieces) if one.serves(job)]
    place = min(
        places, key=lambda place: pieces[place].model != job.model, default=None
    )
    if place is not None:
        pieces[place] = replace(pieces[place], count=pieces[place].count - 1)


def of_models(
    pieces: Iterable[DrawerPiece], models: Mapping[str, str]
) -> tuple[DrawerPiece, ...]:
    """The pieces with the model of the donor that each came from, by the key of its tag, where that is known."""
    named = []
    for one in pieces:
        model = (
            one.model if one.is_bought else models.get(tag_key(one.origin), one.model)
        )
        named.append(replace(one, model=model))
    return tuple(named)
