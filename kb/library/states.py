"""The states in which a machine can be, and whether a step can be done in them: what it must still do for a test."""

from __future__ import annotations

from collections.abc import Collection

from kb.model import Fix, Test


def can_be_done(step: Test | Fix, states: Collection[str]) -> bool:
    """Whether a step can be done on a machine that is in one of these states; nothing known, or none, keeps nothing.

    >>> look = Test("look", "Look at the icon", 1, (), states=("starts", "runs"))
    >>> can_be_done(look, ("dead",)), can_be_done(look, ("dead", "runs")), can_be_done(look, ())
    (False, True, True)
    """
    return not states or not step.states or not set(step.states).isdisjoint(states)
