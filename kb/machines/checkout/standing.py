"""The standing of a machine's check-out: each line of the list open, good, failed, waived or stale."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from kb.base.worded import worded
from kb.history.units import LineShown, Moved, RepairDone, Unit
from kb.library.checklist import CheckLine
from kb.library.machine import CompleteMachine
from kb.machines.checkout.freshness import Repair, away, lost_with, undone_since
from kb.model import Entry


class LineState(StrEnum):
    """Where a line stands, worked out from the records; the value is the word that is shown.

    A good line is stale once a later repair made it unproven; one that is not there, or waived with a reason, is
    settled like a good one.
    """

    OPEN = "open"
    GOOD = "good"
    FAILED = "failed"
    WAIVED = "waived"
    NOT_THERE = "not there"
    STALE = "stale"


SETTLED = frozenset({LineState.GOOD, LineState.WAIVED, LineState.NOT_THERE})


@dataclass(frozen=True, slots=True, kw_only=True)
class LineStanding:
    """One line of a machine: its state, what it showed last, and the repair that made it stale, or proved it."""

    line: CheckLine
    state: LineState
    shown: LineShown | None = None
    undone: Repair | None = None
    proven_by: Repair | None = None

    @property
    def is_settled(self) -> bool:
        """Whether nothing is left to do about it."""
        return self.state in SETTLED


def standings(
    lines: Iterable[CheckLine], unit: Unit, repairs: Sequence[Repair]
) -> tuple[LineStanding, ...]:
    """Every line of the list as it stands on a machine after these repairs, in the list's order."""
    return tuple(_standing(line, unit, repairs) for line in lines)


def _standing(line: CheckLine, unit: Unit, repairs: Sequence[Repair]) -> LineStanding:
    shown = unit.lines.get(line.name)
    if shown is None:
        return LineStanding(line=line, state=LineState.OPEN)
    match shown.shown:
        case "waived":
            return LineStanding(line=line, state=LineState.WAIVED, shown=shown)
        case "not-there":
            return LineStanding(line=line, state=LineState.NOT_THERE, shown=shown)
        case "good":
            return _proven(line, shown, shown.seq, None, repairs)
    mended = _mended_by(shown, unit, repairs)
    if mended is None:
        return LineStanding(line=line, state=LineState.FAILED, shown=shown)
    return _proven(line, shown, mended.at, mended, repairs)


def _proven(
    line: CheckLine,
    shown: LineShown,
    since: int,
    by: Repair | None,
    repairs: Sequence[Repair],
) -> LineStanding:
    """A line that was proven, which a later repair may have made stale."""
    undone = undone_since(line, since, repairs)
    state = LineState.STALE if undone else LineState.GOOD
    return LineStanding(
        line=line, state=state, shown=shown, undone=undone, proven_by=by
    )


def _mended_by(
    shown: LineShown, unit: Unit, repairs: Sequence[Repair]
) -> Repair | None:
    """The repair that mended a failed line: the one with which the job closed that its failure opened."""
    if not shown.job or not unit.is_mended(shown):
        return None
    since = {
        work.seq for work in unit.work if work.job == shown.job and work.seq > shown.seq
    }
    done = [repair for repair in repairs if repair.at in since]
    return max(done, key=lambda repair: repair.at, default=None)


def repairs_on(unit: Unit, depths: Depths) -> tuple[Repair, ...]:
    """Every repair and try at one on a machine, every part that left it or came into it, and its own ways back."""
    found = [
        *(away(at, depths.lines) for at in unit.came_back),
        *(depths.of_work(work) for work in unit.work),
        *(depths.of_part_moved(moved) for moved in unit.moved),
    ]
    return tuple(sorted(found, key=lambda repair: repair.at))


@dataclass(frozen=True, slots=True)
class Depths:
    """How deep repairs go on a model: by the parts of its machine, else by where the list says that a part sits.

    `entry_of` gives the entry of a slug, whose fix says which parts it takes and whether the cover is off.
    """

    model: str
    machine: CompleteMachine
    lines: tuple[CheckLine, ...]
    entry_of: Callable[[str], Entry | None]

    def of_part(self, name: str, unknown: int = 1) -> int:
        """How deep a part lies, `unknown` where neither the machine's parts nor the list tell."""
        part = self.machine.part(name, self.model)
        if part is not None:
            return part.depth
        return max(
            (line.depth for line in self.lines if name in line.parts), default=unknown
        )

    def of_work(self, work: RepairDone) -> Repair:
        """What was reached by a cause that was confirmed, or by a fix that was tried."""
        slug, _, cause = work.fix.partition("/")
        entry = self.entry_of(slug)
        fix = entry.fix_for(cause) if entry else None
        opened = 1 if fix is None or fix.cover_off else 0
        if work.part:
            return self._repair(
                work.seq, (work.part,), opened, worded("the {part}", part=work.part)
            )
        title = entry.title if entry else work.fix
        return self._repair(work.seq, fix.parts if fix else (), opened, f"“{title}”")

    def of_part_moved(self, moved: Moved) -> Repair:
        """What was reached by taking a part out, or by fitting one."""
        return self._repair(
            moved.seq, (moved.part,), 1, worded("the {part}", part=moved.part)
        )

    def _repair(self, at: int, parts: Sequence[str], opened: int, what: str) -> Repair:
        depth = max([opened, *(self.of_part(part, unknown=opened) for part in parts)])
        return Repair(
            at=at,
            depth=depth,
            parts=frozenset(parts),
            undoes=lost_with(parts, self.lines),
            what=what,
        )
