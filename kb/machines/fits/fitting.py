"""Fitting: how likely a part of one model serves in another, and the evidence for it, told before any figure."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from kb.machines.fits.families import (
    ALPHA,
    CLAIM,
    LUCK,
    MISFIT,
    Shown,
    Try,
    linked,
    same_family,
    tied,
)

Verdict = Literal["fits", "may fit", "claimed", "did not fit", "unknown"]

#: What is said of a part in its own model before any try, as a number of tries: makers change parts within a model
#: (common practice, no source).
OWN_MODEL = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class PartTry:
    """A part of one kind tried in a machine, or claimed to fit: models, what it showed, when, why not, who says so.

    `failed` is a part that did not fit. A dead part, or one that was not the cause, is no such try.
    """

    giver: str
    receiver: str
    shown: Shown
    at: str = ""
    reason: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """What is known of a part of `giver` in `receiver`: the verdict, and what it rests on.

    `chance` is None where a direct failure stands: the figure of the family is not shown beside it. Of an unknown pair
    it is that of two models of which nothing is known: sizes of families alone, which `chance` counts as its prior
    does, said .79 where .46 to .76 came true on simulated tries. `worked`, `failed` and `claimed` are the direct tries
    of this pair, in time's order; a part that worked the other way round is in `turned_round`. `chain` names the
    models from giver to receiver that evidence links, `weakest` the poorest link.
    """

    giver: str
    receiver: str
    verdict: Verdict
    chance: float | None
    worked: tuple[PartTry, ...] = ()
    failed: tuple[PartTry, ...] = ()
    claimed: tuple[PartTry, ...] = ()
    turned_round: tuple[PartTry, ...] = ()
    chain: tuple[str, ...] = ()
    weakest: Shown | None = None

    @property
    def likely(self) -> float:
        """The chance that it fits, 0 where a failure stands."""
        return self.chance or 0.0

    @property
    def last(self) -> PartTry | None:
        """The newest direct try, if there was one."""
        return max([*self.worked, *self.failed], key=lambda done: done.at, default=None)

    @property
    def reason(self) -> str:
        """Why it did not fit, in the words of the newest failure that says so; empty if none does."""
        return next((done.reason for done in reversed(self.failed) if done.reason), "")


def chance(
    tries: Iterable[Try],
    giver: str,
    receiver: str,
    alpha: float = ALPHA,
    claim: float = CLAIM,
) -> float:
    """The probability that a part of `giver` fits `receiver`, from all tries of this kind of part.

    P(same family | tries) · (1 - .03) + P(not) · .01, over all partitions of the models that evidence links with the
    two (`kb.machines.fits.families`). A try is (giver, receiver, "worked" | "failed" | "claimed"), `alpha` the strength
    of the prior and `claim` what a claim counts for, `: 1`. Direction does not matter.
    In its own model a part fits with 1 - .03, and tries there move that figure alone: it is the mean of a Beta
    distribution that stands for `OWN_MODEL` tries before any was made. ValueError unless alpha and claim are above 0.

    >>> tries = [("a", "b", "worked"), ("a", "b", "worked"), ("b", "c", "worked")]
    >>> round(chance([], "a", "c"), 3), round(chance([("a", "c", "claimed")], "a", "c"), 3), round(
    ...     chance(tries, "a", "c"), 3
    ... )
    (0.25, 0.682, 0.955)
    >>> tries.append(("a", "c", "failed"))
    >>> [round(chance(tries, *pair), 3) for pair in ("ac", "bc", "ab")]
    [0.643, 0.647, 0.967]
    >>> round(chance([("a", "a", "failed")], "a", "a"), 4)
    0.7275
    """
    if alpha <= 0 or claim <= 0:
        raise ValueError(
            f"alpha {alpha} and claim {claim} must be above 0; 3 and 7 are usual"
        )
    listed = tuple(tries)
    if giver == receiver:
        return _in_its_own_model(listed, giver)
    same = _same(
        _counted(listed, giver, receiver, claim), giver, receiver, alpha, claim
    )
    return same * (1 - MISFIT) + (1 - same) * LUCK


def _in_its_own_model(tries: Sequence[Try], model: str) -> float:
    shown = [how for giver, receiver, how in tries if giver == receiver == model]
    worked, failed = shown.count("worked"), shown.count("failed")
    return (worked + OWN_MODEL * (1 - MISFIT)) / (worked + failed + OWN_MODEL)


def _counted(
    tries: Sequence[Try], giver: str, receiver: str, claim: float
) -> tuple[Try, ...]:
    """The tries that the answer can rest on, in one order, so that what was answered once need not be again."""
    near = set(linked(tied(tries, claim), [giver, receiver]))
    across = [
        (min(a, b), max(a, b), shown)
        for a, b, shown in tries
        if a != b and near.issuperset((a, b))
    ]
    return tuple(sorted(across))


@lru_cache(maxsize=4096)  # twelve models' pairs for two dozen kinds of part
def _same(
    tries: tuple[Try, ...], giver: str, receiver: str, alpha: float, claim: float
) -> float:
    return same_family(tied(tries, claim), giver, receiver, alpha=alpha)


def fitting(
    tries: Iterable[PartTry],
    giver: str,
    receiver: str,
    alpha: float = ALPHA,
    claim: float = CLAIM,
) -> Fitting:
    """What is known of a part of `giver` in `receiver`, as evidence first and as a figure second.

    >>> tries = [
    ...     PartTry(giver="Tern 13", receiver="Godwit 13", shown="worked", at="2026-03-01"),
    ...     PartTry(giver="Skua 14", receiver="Godwit 13", shown="failed", reason="ribbon"),
    ... ]
    >>> fitting(tries, "Tern 13", "Godwit 13").verdict, fitting(tries, "Godwit 13", "Tern 13").verdict
    ('fits', 'may fit')
    >>> none = fitting(tries, "Skua 14", "Godwit 13")
    >>> none.verdict, none.reason, none.chance
    ('did not fit', 'ribbon', None)
    >>> fitting(tries, "Tern 13", "Skua 14").chain, fitting(tries, "Tern 13", "Fulmar 14").verdict
    (('Tern 13', 'Godwit 13', 'Skua 14'), 'unknown')
    """
    listed = sorted(tries, key=lambda done: done.at)
    plain = counted_once(listed)
    direct = _direct(listed, giver, receiver)
    chain, weakest = _chain(plain, giver, receiver)
    verdict = _verdict(giver == receiver, direct, is_linked=bool(chain))
    told = plain if verdict != "unknown" else []
    return Fitting(
        giver=giver,
        receiver=receiver,
        verdict=verdict,
        chance=None if direct.failed else chance(told, giver, receiver, alpha, claim),
        worked=direct.worked,
        failed=direct.failed,
        claimed=direct.claimed,
        turned_round=direct.turned_round,
        chain=chain,
        weakest=weakest,
    )


def counted_once(tries: Iterable[PartTry]) -> list[Try]:
    """The tries as the families take them; what one source claims of a pair again and again is one claim."""
    plain, claims = list[Try](), set[tuple[str, str, str]]()
    for done in tries:
        if done.shown == "claimed" and done.source:
            claim = (done.giver, done.receiver, done.source)
            if claim in claims:
                continue
            claims.add(claim)
        plain.append((done.giver, done.receiver, done.shown))
    return plain


@dataclass(slots=True)
class _Direct:
    """The tries between two models by what they showed; one that worked the other way round is turned round."""

    worked: tuple[PartTry, ...] = ()
    turned_round: tuple[PartTry, ...] = ()
    failed: tuple[PartTry, ...] = ()
    claimed: tuple[PartTry, ...] = ()


def _direct(tries: Iterable[PartTry], giver: str, receiver: str) -> _Direct:
    found = _Direct()
    for done in tries:
        if {done.giver, done.receiver} != {giver, receiver}:
            continue
        if done.shown == "failed":
            found.failed += (done,)
        elif done.shown == "claimed":
            found.claimed += (done,)
        elif done.giver == giver:
            found.worked += (done,)
        else:
            found.turned_round += (done,)
    return found


def _verdict(same_model: bool, direct: _Direct, is_linked: bool) -> Verdict:
    """What the evidence says.

    *Fits* needs a direct try that worked, or the same model, and no failure. Any direct failure of fit, either way
    round, makes it *did not fit*. A direct claim makes it *claimed*; what evidence links *may fit*, the rest is
    *unknown*. Which of the last three it is says nothing of how likely: that is the figure's part.
    """
    if direct.failed:
        return "did not fit"
    if direct.worked or same_model:
        return "fits"
    if direct.claimed:
        return "claimed"
    return "may fit" if is_linked else "unknown"


def _chain(
    tries: Sequence[Try], giver: str, receiver: str
) -> tuple[tuple[str, ...], Shown | None]:
    """The shortest way from giver to receiver over the best links there are, and the poorest of these."""
    allowed: list[Shown] = []
    for shown in ("worked", "claimed", "failed"):
        allowed.append(shown)
        partners: dict[str, set[str]] = defaultdict(set)
        for a, b, how in tries:
            if how in allowed and a != b:
                partners[a].add(b)
                partners[b].add(a)
        way = _shortest(partners, giver, receiver)
        if way:
            return way, allowed[-1]
    return (), None


def _shortest(
    partners: Mapping[str, Iterable[str]], start: str, end: str
) -> tuple[str, ...]:
    """The way with the fewest links, () if there is none or nowhere to go."""
    ways: dict[str, tuple[str, ...]] = {start: (start,)}
    walked = [start]
    for model in walked:  # grows while it is walked
        for other in sorted(partners.get(model, ())):
            if other not in ways:
                ways[other] = (*ways[model], other)
                walked.append(other)
    return ways.get(end, ()) if start != end else ()
