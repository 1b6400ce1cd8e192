"""The standard acts of the house: minutes, waiting and trust of what every bench does in the same way, in one table."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from kb.base.worded import worded
from kb.library.items import Item, number_of, read_items, share_of
from kb.model import USUAL_RELIABILITY, Remark

#: An act as it is written.
LIKE = (
    "- **drain the standby power** (2 min; wait 10 min; 18 in 25): "
    "pack and charger out ... Common practice, no source."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """A standard act: hands-on minutes, minutes of waiting, and how often what it shows is right."""

    name: str
    minutes: float
    wait: float = 0.0
    trust: float = USUAL_RELIABILITY
    text: str = ""
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Acts:
    """The acts by name, and what is wrong in their file."""

    by_name: Mapping[str, Act]
    remarks: tuple[Remark, ...] = ()

    def alike(self, title: str) -> Act | None:
        """The act that a test's title names before its first stop, whatever the small words; None if there is none."""
        said = _words(re.split(r"[:;,.(]", title)[0])
        return next(
            (act for act in self.by_name.values() if _words(act.name) == said), None
        )


def parse(text: str, file: str = "house/acts.md") -> Acts:
    """The acts that a file holds, with every problem named by line; an act with a problem is left out.

    >>> found = parse("- **try an outside screen** (3 min; 23 in 25): any video cable. Common practice, no source.")
    >>> found.by_name["try an outside screen"].trust, found.remarks
    (0.92, ())
    """
    read = read_items(text, file, LIKE)
    remarks = list(read.remarks)
    acts: dict[str, Act] = {}
    for item in read.items:
        act = _act(item, file)
        if isinstance(act, Remark):
            remarks.append(act)
        elif act.name in acts:
            remarks.append(
                Remark(
                    file,
                    item.line,
                    worded("`{name}` stands twice", name=act.name),
                    worded("keep one of the two"),
                )
            )
        else:
            acts[act.name] = act
    return Acts(acts, tuple(sorted(remarks, key=lambda remark: remark.line)))


def _act(item: Item, file: str) -> Act | Remark:
    """The act of an item, or what is wrong with it."""
    act = Act(
        name=" ".join(item.name.split()), minutes=-1.0, text=item.text, line=item.line
    )
    for piece in item.pieces:
        read = _with_piece(act, piece)
        if read is None:
            return Remark(
                file,
                item.line,
                worded("`{piece}` is not understood", piece=piece),
                worded("write it as in `{like}`", like=LIKE),
            )
        act = read
    if act.minutes < 0 or not act.text:
        missing = (
            worded("no minutes are given")
            if act.minutes < 0
            else worded("`{name}` does not say what to do", name=act.name)
        )
        return Remark(
            file, item.line, missing, worded("write it as in `{like}`", like=LIKE)
        )
    return act


def _with_piece(act: Act, piece: str) -> Act | None:
    """The act with one more piece of its bracket, None if that is not understood."""
    minutes, trust = number_of(piece, "min"), share_of(piece)
    wait = (
        number_of(piece.removeprefix("wait "), "min")
        if piece.startswith("wait ")
        else None
    )
    if minutes is not None:
        return replace(act, minutes=minutes)
    if wait is not None:
        return replace(act, wait=wait)
    return replace(act, trust=trust) if trust is not None and 0 < trust < 1 else None


def _words(text: str) -> frozenset[str]:
    """The words of a name by which a title is compared with it: of four letters or more, in the singular."""
    return frozenset(
        word.rstrip("s") for word in re.findall(r"[a-z]{4,}", text.lower())
    )
