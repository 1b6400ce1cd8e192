"""Telling people of parts and piles: chances, what is known of a fit, and one sentence for a machine."""

from __future__ import annotations

from collections.abc import Mapping

from kb.machines.fits import Fitting
from kb.machines.pile.outlook import Outlook


def in_ten(chance: float) -> str:
    """A chance as so many times in ten.

    >>> in_ten(0.84), in_ten(0.02), in_ten(0.99)
    ('8 in 10', 'hardly ever', '10 in 10')
    """
    tenths = round(10 * chance)
    return f"{tenths} in 10" if tenths else "hardly ever"


def fit_told(known: Fitting, fits: float) -> str:
    """What is known of a fit, in words: evidence first, then the chance `fits`."""
    match known.verdict:
        case "fits":
            return "fits" if known.worked else "fits: the same model"
        case "may fit":
            return f"may fit, {in_ten(fits)} (by {' - '.join(known.chain)})"
        case "claimed":
            sources = {claim.source for claim in known.claimed if claim.source}
            return f"claimed by {', '.join(sorted(sources)) or 'somebody'}, {in_ten(fits)}"
        case "did not fit":
            return f"did not fit{f': {known.reason}' if known.reason else ''}"
        case _:
            return f"nobody tried, fits {in_ten(fits)}"


def outlook_told(one: Outlook, pools: Mapping[str, tuple[str, str]]) -> str:
    """One machine of a pile in a sentence; `pools` tells the kind of part of each pool."""
    head = f"{one.tag}: {in_ten(one.chance)}, about {one.minutes:.0f} min"
    frees = f"; its parts free {', '.join(one.frees)}" if one.frees else ""
    share = one.against_next
    beside = f"; a minute here brings {share:.0%} of what it brings on the next one" if share < 1 else ""
    match one.turn:
        case "next":
            return f"{head}: {_doing(one, pools)}{frees}"
        case "give":
            return f"{one.tag}: worth more for its parts{frees}"
        case "part":
            return f"{one.tag}: waits for a part that cannot be had now"
        case "no way":
            return f"{one.tag}: no repair is known for its cause"
        case "later":
            return f"{head}: later{beside}{frees}"
        case _:
            return f"{head}{beside}{frees}"


def _doing(one: Outlook, pools: Mapping[str, tuple[str, str]]) -> str:
    """What the next step does."""
    step = one.step
    if step is None:
        return "go on with it"
    part = pools[step.part][0] if step.part in pools else step.part
    match step.kind:
        case "look":
            return "find the fault"
        case "repair":
            return "repair it"
        case "fit":
            return f"fit the {part} of {step.donor}"
        case _:
            return f"buy a {part} and fit it"
