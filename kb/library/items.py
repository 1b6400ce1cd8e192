"""Named list items of a house file: `- **name** (piece; piece): text`, each under its heading, problems by line."""

from __future__ import annotations

import re
from dataclasses import dataclass

from kb.base.worded import worded
from kb.model import Remark

_ITEM = re.compile(
    r"- \*\*(?P<name>[^*]+)\*\*\s*(?:\((?P<inside>[^()]*)\))?\s*(?::\s*(?P<text>.+))?"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One item: its name, the pieces of its bracket, its text, the lines nested under it, and where it stands."""

    name: str
    pieces: tuple[str, ...]
    text: str
    nested: tuple[str, ...]
    heading: str
    line: int


@dataclass(frozen=True, slots=True)
class Items:
    """The items of a file in their order, and what is wrong in it."""

    items: tuple[Item, ...]
    remarks: tuple[Remark, ...]


def read_items(text: str, file: str, like: str) -> Items:
    r"""The items that a file holds; `like` is an example for a line that is none.

    >>> text = "## Power\n- **clock** (1 min; rare): keeps time\n    - fails: see clock-resets"
    >>> found = read_items(text, "x.md", "")
    >>> found.items[0].pieces, found.items[0].nested, found.items[0].heading
    (('1 min', 'rare'), ('fails: see clock-resets',), 'Power')
    """
    found: list[tuple[re.Match[str], list[str], str, int]] = []
    remarks = []
    heading = ""
    for number, raw in enumerate(text.splitlines(), 1):
        if raw.startswith("#"):
            heading = raw.lstrip("# ").strip()
        elif raw.startswith("- "):
            match = _ITEM.fullmatch(raw.rstrip())
            if match:
                found.append((match, [], heading, number))
            else:
                remarks.append(
                    Remark(
                        file,
                        number,
                        worded("this line is not understood"),
                        worded("write it as in `{like}`", like=like),
                    )
                )
        elif found and raw.startswith(" ") and raw.strip().startswith("- "):
            found[-1][1].append(raw.strip().removeprefix("- ").strip())
    items = [
        _item(match, nested, under, number) for match, nested, under, number in found
    ]
    return Items(tuple(items), tuple(remarks))


def number_of(piece: str, unit: str) -> float | None:
    """The number before a unit, None if the piece is something else.

    >>> number_of("2.5 min", "min"), number_of("often", "min")
    (2.5, None)
    """
    match = re.fullmatch(rf"(\d+(?:\.\d+)?) {re.escape(unit)}", piece)
    return float(match[1]) if match else None


def share_of(piece: str) -> float | None:
    """The share that `n in m` says, None if the piece is something else.

    >>> share_of("4 in 5"), share_of("5 in 4")
    (0.8, None)
    """
    match = re.fullmatch(r"(\d+) in (\d+)", piece)
    if match is None:
        return None
    part, whole = int(match[1]), int(match[2])
    return part / whole if part <= whole != 0 else None


def _item(match: re.Match[str], nested: list[str], heading: str, number: int) -> Item:
    pieces = tuple(
        piece.strip() for piece in (match["inside"] or "").split(";") if piece.strip()
    )
    return Item(
        name=match["name"].strip(),
        pieces=pieces,
        text=(match["text"] or "").strip(),
        nested=tuple(nested),
        heading=heading,
        line=number,
    )
