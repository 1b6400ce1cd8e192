"""What a complete machine consists of, read from Markdown: its parts with their weight, minutes and depth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from kb.base.worded import worded
from kb.library.items import Item, number_of, read_items
from kb.model import Remark

#: A part as it is written.
LIKE = "- **keyboard** (weight 8; out 20 min; in 25 min; depth 2)"


@dataclass(frozen=True, slots=True, kw_only=True)
class MachinePart:
    """One part: how many, its weight in a machine's cost, minutes to take it out and to fit it, and how deep it lies.

    Depth 1 is under the bottom cover, 2 under board, cooler or palm rest, 3 in the lid.
    """

    name: str
    count: int = 1
    weight: float = 0.0
    out: float = 0.0
    fit: float = 0.0
    depth: int = 1
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class CompleteMachine:
    """The parts of a complete machine, in general and where a model has its own; and what is wrong in the file."""

    general: tuple[MachinePart, ...]
    own: Mapping[str, tuple[MachinePart, ...]]
    remarks: tuple[Remark, ...] = ()

    def parts(self, model: str) -> tuple[MachinePart, ...]:
        """The parts of a model: what stands under its own heading wins over the general line of that name."""
        own = {part.name: part for part in self.own.get(model.strip().casefold(), ())}
        general = [own.pop(part.name, part) for part in self.general]
        return (*general, *own.values())

    def part(self, name: str, model: str = "") -> MachinePart | None:
        """The part of that name on a model, or None."""
        return next((part for part in self.parts(model) if part.name == name), None)


def parse(text: str, file: str = "machine.md") -> CompleteMachine:
    r"""The machine that a file tells of; second-level headings name models.

    >>> read = parse("- **fan** (weight 2; depth 2)\n## Skua 14\n- **fan** (count 2; weight 3; depth 2)")
    >>> [part.count for part in read.parts("Tern 13")], [part.count for part in read.parts("skua 14")]
    ([1], [2])
    """
    read = read_items(text, file, LIKE)
    remarks = list(read.remarks)
    general: list[MachinePart] = []
    own: dict[str, list[MachinePart]] = {}
    title = next(
        (
            line.lstrip("# ").strip()
            for line in text.splitlines()
            if line.startswith("# ")
        ),
        "",
    )
    for item in read.items:
        part = _part(item, file)
        if isinstance(part, Remark):
            remarks.append(part)
        elif item.heading in ("", title):
            general.append(part)
        else:
            own.setdefault(item.heading.casefold(), []).append(part)
    return CompleteMachine(
        tuple(general),
        {model: tuple(parts) for model, parts in own.items()},
        tuple(remarks),
    )


def _part(item: Item, file: str) -> MachinePart | Remark:
    """The part of an item, or what is wrong with it."""
    part = MachinePart(name=item.name, line=item.line)
    for piece in item.pieces:
        read = _with_piece(part, piece)
        if read is None:
            return Remark(
                file,
                item.line,
                worded("`{piece}` is not understood", piece=piece),
                worded("write it as in `{like}`", like=LIKE),
            )
        part = read
    return part


def _with_piece(part: MachinePart, piece: str) -> MachinePart | None:
    """The part with one more piece of its bracket, None if that is not understood."""
    word, _, rest = piece.partition(" ")
    minutes = number_of(rest, "min")
    if word in ("out", "in") and minutes is not None:
        return (
            replace(part, out=minutes) if word == "out" else replace(part, fit=minutes)
        )
    if not rest.replace(".", "", 1).isdigit():
        return None
    match word:
        case "weight":
            return replace(part, weight=float(rest))
        case "count" if rest.isdigit() and int(rest) > 0:
            return replace(part, count=int(rest))
        case "depth" if rest in ("0", "1", "2", "3"):
            return replace(part, depth=int(rest))
        case _:
            return None
