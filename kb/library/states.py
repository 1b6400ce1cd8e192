"""The states in which a machine can be, and which of them a step can be done in: what it must still do for a test."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from kb.model import STATES, Fix, Test

#: What a test may ask of the machine itself, and the states that give it.
MACHINE_NEEDS: Mapping[str, frozenset[str]] = {
    "lights": frozenset(STATES[1:]),
    "starts": frozenset(STATES[2:]),
    "picture": frozenset(("starts", "runs")),
    "runs": frozenset(("runs",)),
    "radio": frozenset(("runs",)),
}
#: What tools imply: an installed system is the machine's own and has to run, what starts from a stick shows a picture.
_IMPLIED = {
    "installed system": "runs",
    "live system stick": "picture",
    "memory test stick": "picture",
    "installer stick": "picture",
}


def asked_of_machine(step: Test | Fix) -> tuple[str, ...]:
    """What a step asks of the machine: what it says, and what its tools imply.

    >>> asked_of_machine(Fix(("slow",), 5, "update it", needs=("installed system",), machine=("radio",)))
    ('radio', 'runs')
    """
    implied = (_IMPLIED[need] for need in step.needs if need in _IMPLIED)
    return tuple(dict.fromkeys((*step.machine, *implied)))


def allowed_in(step: Test | Fix) -> frozenset[str]:
    """The states in which a step can be done.

    >>> sorted(allowed_in(Test("look", "Look at the icon", 1, (), machine=("picture",))))
    ['runs', 'starts']
    """
    allowed = frozenset(STATES)
    for need in asked_of_machine(step):
        allowed &= MACHINE_NEEDS[need]
    return allowed


def can_be_done(step: Test | Fix, states: Collection[str]) -> bool:
    """Whether a step can be done on a machine that is in one of these states; nothing known, or none, keeps nothing."""
    return not states or bool(allowed_in(step).intersection(states))
