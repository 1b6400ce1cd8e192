"""The hand-over of a machine that was checked: what still keeps it here, and what its printed sheet says."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from kb.base.worded import worded
from kb.history.units import Signature, Unit
from kb.library.checklist import CheckLine
from kb.machines.checkout.standing import LineStanding, LineState

#: Names of lines told in a sentence before "and N more".
NAMED = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """What was read at the lines that say so and is signed with the rest: wear, look, how it was wiped."""

    wear: str = ""
    look: str = ""
    wipe: str = ""


def told_readings(standing: Iterable[LineStanding]) -> dict[str, str]:
    """What the good lines say was read, by what they read, in the order of the list; empty where nothing was."""
    told: dict[str, str] = {}
    for one in standing:
        if one.line.reads:
            shown = one.shown.value if one.shown and one.state is LineState.GOOD else ""
            told[one.line.reads] = shown or told.get(one.line.reads, "")
    return told


def readings(standing: Iterable[LineStanding]) -> Readings:
    """The readings of the lines that are good."""
    told = told_readings(standing)
    return Readings(
        wear=told.get("wear", ""), look=told.get("look", ""), wipe=told.get("wipe", "")
    )


def kept_here_by(unit: Unit, standing: Sequence[LineStanding]) -> tuple[str, ...]:
    """All that keeps a machine from being signed, a sentence each; none if it is ready to be."""
    told = []
    if unit.gone:
        told.append(worded("it has left the shop ({gone})", gone=unit.gone))
    if unit.is_donor:
        told.append(worded("it was given up for parts"))
    if unit.wanted:
        told.append(
            worded(
                "it waits for {wanted}", wanted=_row([one.part for one in unit.wanted])
            )
        )
    if unit.open_jobs:
        told.append(
            worded(
                "{n} job is open on it|{n} jobs are open on it", n=len(unit.open_jobs)
            )
        )
    for state, words in _UNSETTLED.items():
        names = [one.line.name for one in standing if one.state is state]
        if names:
            told.append(
                worded(
                    "{lines} {words}: {names}",
                    lines=_lines(len(names)),
                    words=words,
                    names=_row(names),
                )
            )
    return tuple(told)


#: What is said of lines in a state that keeps a machine here.
_UNSETTLED = {
    LineState.FAILED: worded("failed"),
    LineState.STALE: worded("to show again"),
    LineState.OPEN: worded("open"),
}


def open_points(standing: Iterable[LineStanding]) -> tuple[str, ...]:
    """What a buyer must know: the lines that were waived or are not there, each with its reason."""
    points = []
    for one in standing:
        if one.state in (LineState.WAIVED, LineState.NOT_THERE) and one.shown:
            waived = one.state is LineState.WAIVED
            points.append(_open_point(one.line.name, waived, one.shown.why.strip()))
    return tuple(points)


def _open_point(line: str, waived: bool, why: str) -> str:
    told = (
        worded("{line} waived", line=line)
        if waived
        else worded("{line} not there", line=line)
    )
    return worded("{point} ({why})", point=told, why=why) if why else told


def signature_that_stands(
    unit: Unit, standing: Sequence[LineStanding]
) -> Signature | None:
    """The signature if it has power: by somebody who repaired nothing, and nothing happened since that undoes it.

    A signature under a list that has changed since stands: it says what was shown by the list then in force.
    """
    signed = unit.signature
    if signed is None or not unit.is_signed:
        return None
    undone = [one.undone.at for one in standing if one.undone]
    return signed if signed.seq >= max(undone, default=0) else None


def fingerprint(lines: Iterable[CheckLine]) -> str:
    """What tells a list from every other one: it is written down with a signature.

    >>> fingerprint([CheckLine(name="keys", text="press all")])
    'e1b08295367e'
    """
    told = "\n".join(f"{line.name}: {line.text}" for line in lines)
    return hashlib.sha256(told.encode("utf-8", "replace")).hexdigest()[:12]


def _lines(number: int) -> str:
    return worded("{n} line|{n} lines", n=number)


def _row(names: Sequence[str]) -> str:
    """The first names, and how many more there are.

    >>> _row(["a", "b"]), _row(["a", "b", "c", "d", "e", "f"])
    ('a, b', 'a, b, c, d and 2 more')
    """
    more = len(names) - NAMED
    if more <= 0:
        return ", ".join(names)
    return worded("{names} and {more} more", names=", ".join(names[:NAMED]), more=more)
