"""Telling people of parts and piles: chances, what is known of a fit or price, and one sentence for a machine."""

from __future__ import annotations

from collections.abc import Mapping

from kb.base.worded import worded
from kb.machines.cost.money import spoken
from kb.machines.fits import Fitting
from kb.machines.parts_told import PricePaid
from kb.machines.pile.outlook import Outlook


def in_ten(chance: float) -> str:
    """A chance as so many times in ten.

    >>> in_ten(0.84), in_ten(0.02), in_ten(0.99)
    ('8 in 10', 'hardly ever', '10 in 10')
    """
    tenths = round(10 * chance)
    return worded("{tenths} in 10", tenths=tenths) if tenths else worded("hardly ever")


def fit_told(known: Fitting, fits: float) -> str:
    """What is known of a fit, in words: evidence first, then the chance `fits`."""
    match known.verdict:
        case "fits":
            return worded("fits") if known.worked else worded("fits: the same model")
        case "may fit":
            return worded(
                "may fit, {fits} (by {chain})",
                fits=in_ten(fits),
                chain=" - ".join(known.chain),
            )
        case "claimed":
            sources = {claim.source for claim in known.claimed if claim.source}
            return worded(
                "claimed by {sources}, {fits}",
                sources=", ".join(sorted(sources)) or worded("somebody"),
                fits=in_ten(fits),
            )
        case "did not fit":
            return (
                worded("did not fit: {reason}", reason=known.reason)
                if known.reason
                else worded("did not fit")
            )
        case _:
            return worded("nobody tried, fits {fits}", fits=in_ten(fits))


def paid_told(price: PricePaid, currency: str) -> str:
    """What a piece cost last, with the model that it was for if it is another than is asked for.

    >>> paid_told(PricePaid(4500), "EUR"), paid_told(PricePaid(4500, "Tern 13"), "EUR")
    ('45.00 EUR', '45.00 EUR (as paid for Tern 13)')
    """
    sums = spoken(price.cents, currency)
    return (
        worded("{price} (as paid for {model})", price=sums, model=price.paid_for)
        if price.paid_for
        else sums
    )


def outlook_told(one: Outlook, pools: Mapping[str, tuple[str, str]]) -> str:
    """One machine of a pile in a sentence; `pools` tells the kind of part of each pool."""
    return worded("{tag}{said}", tag=one.tag, said=outlook_said(one, pools))


def outlook_said(one: Outlook, pools: Mapping[str, tuple[str, str]]) -> str:
    """What is said of a machine of a pile behind its tag."""
    frees = ""
    if one.frees:
        frees = worded("; its parts free {frees}", frees=", ".join(one.frees))
    match one.turn:
        case "give":
            return worded(": worth more for its parts{frees}", frees=frees)
        case "part":
            return worded(": waits for a part that cannot be had now")
        case "no way":
            return worded(": no repair is known for its cause")
    head = worded(
        ": {chance}, about {minutes:.0f} min",
        chance=in_ten(one.chance),
        minutes=one.minutes,
    )
    if one.turn == "next":
        doing = _doing(one, pools)
        return worded("{head}: {doing}{frees}", head=head, doing=doing, frees=frees)
    beside = _beside_the_next(one.against_next)
    if one.turn == "later":
        return worded(
            "{head}: later{beside}{frees}", head=head, beside=beside, frees=frees
        )
    return worded("{head}{beside}{frees}", head=head, beside=beside, frees=frees)


def _beside_the_next(share: float) -> str:
    """What a minute brings beside the machine that comes next; empty if it brings as much."""
    if share >= 1:
        return ""
    return worded(
        "; a minute here brings {share:.0%} of what it brings on the next one",
        share=share,
    )


def _doing(one: Outlook, pools: Mapping[str, tuple[str, str]]) -> str:
    """What the next step does."""
    step = one.step
    if step is None:
        return worded("go on with it")
    part = pools[step.part][0] if step.part in pools else step.part
    match step.kind:
        case "look":
            return worded("find the fault")
        case "repair":
            return worded("repair it")
        case "fit":
            return worded("fit the {part} of {donor}", part=part, donor=step.donor)
        case _:
            return worded("buy a {part} and fit it", part=part)
