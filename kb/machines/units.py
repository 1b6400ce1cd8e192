"""Units on the floor: the state that the records of a machine amount to, and the next thing to do with it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from enum import StrEnum

from kb.base.worded import worded
from kb.history.units import is_unknown as is_unknown
from kb.index.floor import UnitLine as UnitLine

#: What stands in lists where a complaint would, and says that there is none.
_NO_COMPLAINT = frozenset(
    (
        *(
            "",
            "ok",
            "okay",
            "fine",
            "good",
            "none",
            "nothing",
            "works",
            "works fine",
            "works ok",
            "working",
            "runs",
        ),
        *(
            "no fault",
            "no faults",
            "no fault found",
            "no issue",
            "no issues",
            "no problem",
            "no problems",
            "na",
            "n a",
        ),
        *(
            "tested",
            "tested ok",
            "tested good",
            "tested working",
            "not tested",
            "untested",
            "unknown",
            "all good",
        ),
    )
)


def complaint_of(line: UnitLine) -> str:
    """What a machine is said to suffer from; empty where its list says that it works, or that nobody knows.

    Such a machine is looked at and checked out like one of which nothing was said.
    """
    plain = " ".join(
        "".join(
            sign if sign.isalnum() else " " for sign in line.words.casefold()
        ).split()
    )
    return "" if plain in _NO_COMPLAINT else line.words.strip()


class FloorState(StrEnum):
    """Where a machine stands: worked out from its records, never stored. The value is the word that is shown."""

    WAITING = "waiting"
    BENCH = "on the bench"
    PART = "waiting for a part"
    CHECK = "to be checked"
    READY = "ready"
    DONOR = "donor"
    GONE = "gone"


class NextStep(StrEnum):
    """The kind of thing that is to be done next with a machine. The value is the word that is shown."""

    LOOK = "first look"
    DIAGNOSE = "find the fault"
    GO_ON = "go on with its job"
    PART = "get the part"
    CHECK_OUT = "check-out"
    HAND_OVER = "hand over"
    TAKE_PARTS = "take parts"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class FloorUnit:
    """One machine of a list with its state, the kind of its next step, and that step in a sentence."""

    line: UnitLine
    state: FloorState
    step: NextStep
    todo: str

    @property
    def on_floor(self) -> bool:
        """Whether it belongs in lists of what is here; one that only closed jobs tell of has long left."""
        line = self.line
        told = (
            line.came_at,
            line.place,
            line.open_jobs,
            line.wanted,
            line.is_donor,
            line.good_lines,
            line.failed_lines,
        )
        return any(told) and self.state is not FloorState.GONE


def floor_unit(
    line: UnitLine, on_arrival: Collection[str] = (), first_look: str = ""
) -> FloorUnit:
    """A machine with its state and next step; `on_arrival` names the lines that are looked at when machines come in.

    `first_look` says in the trade's words what is looked at first.
    """
    state = state_now(line, on_arrival)
    step = next_step(line, state, on_arrival)
    return FloorUnit(line, state, step, _sentence(line, step, first_look))


def state_now(line: UnitLine, on_arrival: Collection[str] = ()) -> FloorState:
    """The first state that holds: gone, donor, part, bench, ready, to be checked, waiting.

    A line shown good makes a machine one to be checked, but not a first look at one that came with a complaint:
    its fault is still to be found.
    """
    if line.gone:
        return FloorState.GONE
    if line.is_donor:
        return FloorState.DONOR
    if line.wanted:
        return FloorState.PART
    if line.open_jobs:
        return FloorState.BENCH
    if line.is_signed:
        return FloorState.READY
    shown_good = set(line.good_lines)
    # it came with a complaint: a first look is not its check-out yet
    if complaint_of(line):
        shown_good -= set(on_arrival)
    return FloorState.CHECK if line.repaired or shown_good else FloorState.WAITING


def next_step(
    line: UnitLine, state: FloorState, on_arrival: Collection[str] = ()
) -> NextStep:
    """The kind of thing that is to be done next with a machine in that state."""
    if state in _STEP_OF:
        return _STEP_OF[state]
    if line.failed_lines:
        return NextStep.DIAGNOSE
    if state is FloorState.CHECK:
        return NextStep.CHECK_OUT
    if complaint_of(line):
        return NextStep.DIAGNOSE
    return (
        NextStep.LOOK
        if set(on_arrival).isdisjoint(line.good_lines)
        else NextStep.CHECK_OUT
    )


#: The next step in the states in which it hangs on nothing else.
_STEP_OF = {
    FloorState.GONE: NextStep.NOTHING,
    FloorState.DONOR: NextStep.TAKE_PARTS,
    FloorState.PART: NextStep.PART,
    FloorState.BENCH: NextStep.GO_ON,
    FloorState.READY: NextStep.HAND_OVER,
}


def _sentence(line: UnitLine, step: NextStep, first_look: str) -> str:
    match step:
        case NextStep.LOOK:
            return _looking(first_look)
        case NextStep.DIAGNOSE | NextStep.GO_ON:
            return _to_repair(line)
        case NextStep.PART:
            return worded(
                "Get the {wanted}; it waits for that.", wanted=_listed(line.wanted)
            )
    return _SENTENCES[step]


#: What is said of steps of which there is nothing to add.
_SENTENCES = {
    NextStep.CHECK_OUT: worded("Go through the check-out."),
    NextStep.HAND_OVER: worded("Hand it over."),
    NextStep.TAKE_PARTS: worded("Take from it what others need."),
    NextStep.NOTHING: worded("Nothing: it is gone."),
}


def _looking(first_look: str) -> str:
    if not first_look:
        return worded("Look at it; then the check-out.")
    return worded("Look at it: {first}; then the check-out.", first=first_look)


def _to_repair(line: UnitLine) -> str:
    """What is to be done with a machine whose fault is looked for."""
    if line.to_fit:
        return worded("Fit the {to_fit} that came for it.", to_fit=_listed(line.to_fit))
    if line.open_jobs:
        return worded(
            "Go on with its open job.|Go on with its {n} open jobs.",
            n=len(line.open_jobs),
        )
    if line.failed_lines:
        return worded(
            "Find what is behind the failed {failed_lines}.",
            failed_lines=_listed(line.failed_lines),
        )
    return worded("Find out what is wrong with it.")


def _listed(names: Iterable[str]) -> str:
    """The names in a row, as a sentence has them.

    >>> _listed(["fan"]), _listed(["fan", "panel", "pad"])
    ('fan', 'fan, panel and pad')
    """
    *first, last = names
    return (
        worded("{first} and {last}", first=", ".join(first), last=last)
        if first
        else last
    )
