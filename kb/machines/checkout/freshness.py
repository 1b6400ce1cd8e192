"""Freshness of check-out lines: what a repair makes unproven, and the minutes of other lines that it costs again."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kb.diagnosis.case import OPENING_MINUTES
from kb.library.checklist import CheckLine


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """A repair, or a try at one: when it was done, as any number that rises with time, and what it reached.

    `depth` is how deep it went: 0 where nothing was opened, 1 behind the cover, 2 behind board, cooler or palm rest,
    3 with the lid apart. `parts` were changed or may have been; `undoes` names steps of work that are lost with it.
    A machine that `was_away` was in other hands, which is no repair and makes lines unproven all the same.
    """

    at: int = 0
    depth: int = 0
    parts: frozenset[str] = frozenset()
    undoes: frozenset[str] = frozenset()
    what: str = ""
    was_away: bool = False


def disturbs(repair: Repair, line: CheckLine) -> bool:
    """Whether a repair makes a line unproven, or a step of work necessary again.

    A line whose part sits as deep as the repair went, or less deep; one with nothing to open (0) by any repair:

    >>> keys, clock = CheckLine(name="keys", text="", depth=2), CheckLine(name="clock", text="", depth=0)
    >>> [disturbs(Repair(depth=depth), keys) for depth in (0, 1, 2, 3)], disturbs(Repair(), clock)
    ([False, False, True, True], True)

    One that stays good whatever is opened, by a change of its part alone; a step of work by what undoes it, and
    closing up by whatever opens the machine:

    >>> wiped = CheckLine(name="wiped", text="", depth=1, parts=("M.2 drive",), stays=True)
    >>> disturbs(Repair(depth=3), wiped), disturbs(Repair(depth=1, parts=frozenset({"M.2 drive"})), wiped)
    (False, True)
    >>> install = CheckLine(name="install", text="", work=True)
    >>> close_up = CheckLine(name="close-up", text="", work=True, depth=1)
    >>> disturbs(Repair(depth=3), install), disturbs(Repair(depth=1), close_up), disturbs(Repair(), close_up)
    (False, True, False)
    """
    if line.name in repair.undoes:
        return True
    if line.stays:
        return not repair.parts.isdisjoint(line.parts)
    if line.work and not line.depth:
        return False
    return repair.depth >= line.depth


def undone_since(
    line: CheckLine, shown_at: int, repairs: Iterable[Repair]
) -> Repair | None:
    """The last repair after a line was shown that made it unproven, None if it is proven still.

    The keyboard (2) was good at 10; the cover was off for the drive at 12 (1), then the board came out at 15 (2):

    >>> keys = CheckLine(name="keys", text="", depth=2)
    >>> cover, board = Repair(at=12, depth=1), Repair(at=15, depth=2)
    >>> undone_since(keys, 10, [cover]), undone_since(keys, 10, [cover, board]).at, undone_since(keys, 16, [board])
    (None, 15, None)
    """
    later = [repair for repair in repairs if repair.at > shown_at]
    undoing = [repair for repair in later if disturbs(repair, line)]
    return max(undoing, key=lambda repair: repair.at, default=None)


def lost_with(parts: Iterable[str], lines: Sequence[CheckLine]) -> frozenset[str]:
    """The steps of work that a change of these parts undoes, and all lines that come after such a step.

    >>> drive = CheckLine(name="drive", text="", parts=("M.2 drive",), undoes=("install",))
    >>> drivers = CheckLine(name="drivers", text="", after=("install",))
    >>> sorted(lost_with(["M.2 drive"], [drive, drivers])), lost_with(["fan"], [drive, drivers])
    (['drivers', 'install'], frozenset())
    """
    changed = set(parts)
    lost: set[str] = set()
    for line in lines:
        if not changed.isdisjoint(line.parts):
            lost.update(line.undoes)
    while True:
        following = {line.name for line in lines if not lost.isdisjoint(line.after)}
        if following <= lost:
            return frozenset(lost)
        lost |= following


def away(at: int, lines: Sequence[CheckLine]) -> Repair:
    """What a machine that left and came back has to show again: nobody here knows what was done to it meanwhile.

    Whatever comes first or is looked at on arrival, what needs no opening, and all work on the parts behind the first
    lines: somebody else's data may be on the drive again.

    >>> wiped = CheckLine(name="wiped", text="", depth=1, parts=("drive",), stays=True, first=True)
    >>> health = CheckLine(name="health", text="", depth=1, parts=("drive",), undoes=("install",))
    >>> sorted(away(20, [wiped, health]).undoes)
    ['install', 'wiped']
    """
    looked = {line.name for line in lines if line.first or line.arrival}
    behind = [part for line in lines if line.first for part in line.parts]
    return Repair(
        at=at, undoes=lost_with(behind, lines) | frozenset(looked), was_away=True
    )


def usual_repair(line: CheckLine, lines: Sequence[CheckLine]) -> Repair:
    """What the repair behind a line that failed usually reaches: its part, where that sits.

    Of several parts a line does not say which it will be; what only one of them undoes is counted all the same.
    """
    return Repair(
        depth=line.depth,
        parts=frozenset(line.parts),
        undoes=lost_with(line.parts, lines),
    )


def redo_minutes(lines: Sequence[CheckLine]) -> list[list[float]]:
    """For each line the minutes of every other that its usual repair makes necessary again; a step of work has none.

    A machine that was closed up has to be opened before it can be closed again: those minutes count with the closing.

    >>> lines = [CheckLine(name=name, text="", minutes=took, depth=sits) for name, took, sits in
    ...          (("charges", 2, 1), ("keys", 5, 2), ("screen", 1, 3))]
    >>> redo_minutes(lines)
    [[0.0, 0.0, 0.0], [2.0, 0.0, 0.0], [2.0, 5.0, 0.0]]
    """
    table = []
    for repaired in lines:
        repair = usual_repair(repaired, lines)
        table.append([_minutes_again(repaired, repair, other) for other in lines])
    return table


def _minutes_again(repaired: CheckLine, repair: Repair, other: CheckLine) -> float:
    if repaired.work or repaired is other or not disturbs(repair, other):
        return 0.0
    closes_up = other.work and other.depth > 0
    return other.minutes + OPENING_MINUTES * closes_up
