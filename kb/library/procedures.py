"""The procedures of the house: deeds in several steps that many fixes share, told once, in the order they are done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from kb.base.worded import worded
from kb.library.items import Item, read_items
from kb.model import Fix, Remark, Test

#: A procedure as it is written, its steps below it.
LIKE = "- **board swap** (part NAME): the same on every machine ... and below it `- Free the donor: how it is done`"


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """A procedure: what is fitted by it, and its steps in order, each `what to do: how it is done`."""

    name: str
    parts: frozenset[str]
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Procedures:
    """The procedures by name, and what is wrong in their file."""

    by_name: Mapping[str, Procedure] = field(default_factory=dict)
    remarks: tuple[Remark, ...] = ()

    def steps_of(self, step: Test | Fix) -> tuple[str, ...]:
        """The steps of the procedure that a test or fix refers to by its standard act; none if it refers to none.

        An act is one of a procedure by its name up to a comma.

        >>> swap = Procedure(name="board swap", parts=frozenset(), steps=("Free the donor: look for locks.",))
        >>> fix = Fix(("mainboard",), 75, "swap the board", act="board swap, small machine")
        >>> Procedures({"board swap": swap}).steps_of(fix)
        ('Free the donor: look for locks.',)
        """
        procedure = self.by_name.get(_named(step))
        return procedure.steps if procedure else ()

    def left_out(self, fix: Fix) -> tuple[str, ...]:
        """The names of the procedures by which a part of this fix is fitted and to which it does not refer."""
        others = [one for one in self.by_name.values() if one.name != _named(fix)]
        return tuple(one.name for one in others if not one.parts.isdisjoint(fix.parts))


def short(step: str) -> str:
    """What to do in a step of a procedure, without how it is done.

    >>> short("Free the donor: start it alone, look for locks.")
    'Free the donor'
    """
    return step.partition(":")[0].strip()


def parse(text: str, file: str = "house/procedures.md") -> Procedures:
    r"""The procedures that a file holds, problems named by line; one without a step is left out.

    >>> found = parse("- **board swap** (part mainboard): with care\n    - Free the donor: look for locks.")
    >>> found.by_name["board swap"].steps
    ('Free the donor: look for locks.',)
    """
    read = read_items(text, file, LIKE)
    remarks = list(read.remarks)
    by_name: dict[str, Procedure] = {}
    for item in read.items:
        remarks += _mistakes(item, file)
        if item.nested:
            parts = frozenset(
                piece.removeprefix("part ").strip() for piece in item.pieces
            )
            by_name.setdefault(
                item.name, Procedure(name=item.name, parts=parts, steps=item.nested)
            )
    return Procedures(by_name, tuple(remarks))


def _mistakes(item: Item, file: str) -> list[Remark]:
    """What is wrong with a procedure: no steps, a piece that names no part, a step that says only what or only how."""
    told = []
    if not item.nested:
        told.append(worded("`{name}` has no steps", name=item.name))
    strange = [piece for piece in item.pieces if not piece.startswith("part ")]
    told += [worded("`{piece}` is not understood", piece=piece) for piece in strange]
    silent = [step for step in item.nested if not step.partition(":")[2]]
    told += [worded("`{step}` does not say how", step=step[:60]) for step in silent]
    instead = worded("write it as in `{like}`", like=LIKE)
    return [Remark(file, item.line, problem, instead) for problem in told]


def _named(step: Test | Fix) -> str:
    return step.act.partition(",")[0].strip()
