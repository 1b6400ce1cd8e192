"""What donors are still good for: how likely a part of one is good, and in which order to try several; arithmetic."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from kb.machines.checkout.shares import Looks

#: P(a check-out line passes | the part it serves is good), and if it is bad (common practice, no source).
PASSES_GOOD, PASSES_BAD = 0.99, 0.10
#: The share of machines whose part is bad without being the complaint, before any was counted, and for how many
#: machines of all models, and then of one, that stands (common practice, no source).
UNNOTICED, ALL_MACHINES, OWN_MACHINES = 0.05, 20.0, 12.0
#: What is left of the chance of every part of an area over which liquid or fire spread (common practice, no source).
SPREAD = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion:
    """One thing that may be wrong with a donor: how much it is believed, and every part its repair may ask for.

    A repair by part A *or* B suspects both, each as likely as the other: one of them is bad. A cause confirmed and not
    repaired is believed with 1. `spreads` names the parts of the area that liquid or fire has reached, if it is such a
    cause.
    """

    belief: float
    parts: tuple[str, ...] = ()
    spreads: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PartOfDonor:
    """One part of a donor, and all that is known of it, as numbers.

    `line` is what the newest fresh line of the check-out that this part serves has shown (True for good, None for no
    such line). `unlisted` is the belief in a cause that no entry lists, `used` the share of all parts used in the
    shop that were of this kind. `on_model` and `on_others` are what machines showed that were checked for it.
    """

    part: str
    suspicions: tuple[Suspicion, ...] = ()
    unlisted: float = 0.0
    used: float = 0.0
    on_model: Looks = field(default_factory=Looks)
    on_others: Looks = field(default_factory=Looks)
    line: bool | None = None
    taken: bool = False


def unnoticed(on_model: Looks, on_others: Looks) -> float:
    """The share of a model's machines whose part is bad without being the complaint: the mean of a two-level Beta.

    All other models first, this one then, the upper level plugged in, as causes are counted (MacKay & Peto 1995,
    Natural Language Engineering 1(3)).

    >>> round(unnoticed(Looks(), Looks()), 9), round(unnoticed(Looks(3, 8), Looks(4, 80)), 3)
    (0.05, 0.18)
    """
    elsewhere = (on_others.bad + ALL_MACHINES * UNNOTICED) / (
        on_others.seen + ALL_MACHINES
    )
    return (on_model.bad + OWN_MACHINES * elsewhere) / (on_model.seen + OWN_MACHINES)


def good(part: PartOfDonor) -> float:
    """The probability that a donor's part is good: not suspected, not bad unnoticed, and as its last check says.

    `(1 - belief in causes that ask for it) (1 - share bad unnoticed)`, where a cause that may ask for several parts
    counts for each in equal shares; halved where liquid or fire spreads over it (by the belief that it did), then odds
    times `.99 / .10` for a good line or `.01 / .90` for a bad one. A part that was taken is gone: 0. ValueError for
    beliefs that are none.

    >>> panel = PartOfDonor(part="panel", suspicions=(Suspicion(belief=0.3, parts=("panel", "screen cable")),))
    >>> round(good(panel), 3), round(good(PartOfDonor(part="panel")), 3)
    (0.807, 0.95)
    >>> burnt = Suspicion(belief=1.0, parts=("power board",), spreads=("palm rest", "keyboard"))
    >>> round(good(PartOfDonor(part="keyboard", suspicions=(burnt,))), 3)
    0.475
    """
    _check(part)
    if part.taken:
        return 0.0
    blamed = spread = 0.0
    for one in part.suspicions:
        if part.part in one.parts:
            blamed += one.belief / len(one.parts)
        elif part.part in one.spreads:
            spread += one.belief
    suspected = part.unlisted * part.used + blamed
    clear = max(1 - suspected - spread * (1 - SPREAD), 0.0)
    return after_line(clear * (1 - unnoticed(part.on_model, part.on_others)), part.line)


def _check(part: PartOfDonor) -> None:
    beliefs = [one.belief for one in part.suspicions]
    is_below = min([*beliefs, part.unlisted, part.used]) < 0
    is_above = sum(beliefs) + part.unlisted > 1 + 1e-9 or part.used > 1
    if is_below or is_above:
        raise ValueError(
            f"beliefs in {part.part} of {beliefs} and {part.unlisted} are no shares; they add up to 1 at most"
        )


def after_line(chance: float, line: bool | None) -> float:
    """The chance after a check-out line that the part serves was good or bad (Bayes' rule); None leaves it.

    >>> round(after_line(0.5, True), 4), round(after_line(0.5, False), 4), after_line(0.5, None)
    (0.9083, 0.011, 0.5)
    """
    if line is None:
        return chance
    if_good, if_bad = (
        (PASSES_GOOD, PASSES_BAD) if line else (1 - PASSES_GOOD, 1 - PASSES_BAD)
    )
    return chance * if_good / (chance * if_good + (1 - chance) * if_bad)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A donor that has the part: P(fits), P(good), minutes to take out, fit and try it, and who else waits."""

    tag: str
    fits: float
    good: float
    minutes: float
    wanted_by: tuple[str, ...] = ()

    @property
    def chance(self) -> float:
        """P(fits and good)."""
        return self.fits * self.good


@dataclass(frozen=True, slots=True, kw_only=True)
class Tries:
    """Donors to try one after another until a part serves: in this order, so likely, in so many minutes."""

    order: tuple[Source, ...]
    chance: float
    expected_minutes: float


def in_order(sources: Iterable[Source]) -> Tries:
    """The donors by P(fits) P(good) a minute, which costs fewest expected minutes until one serves or none is left.

    The series rule for tests of which one suffices (Mitten 1960, from memory). Donors that cannot serve are left out;
    equal ones stand by minutes, then by tag. ValueError for negative minutes.

    >>> near = Source(tag="A7", fits=0.9, good=0.6, minutes=10)
    >>> sure = Source(tag="B2", fits=1.0, good=0.9, minutes=25)
    >>> tries = in_order([sure, near])
    >>> [one.tag for one in tries.order], round(tries.chance, 3), tries.expected_minutes
    (['A7', 'B2'], 0.954, 21.5)
    """
    listed = [one for one in sources if one.chance > 0]
    if any(one.minutes < 0 for one in listed):
        raise ValueError(
            "a donor's minutes cannot be negative; give the minutes to take out, fit and try the part"
        )
    order = sorted(listed, key=lambda one: (-_a_minute(one), one.minutes, one.tag))
    none_served, minutes = 1.0, 0.0
    for one in order:
        minutes += none_served * one.minutes
        none_served *= 1 - one.chance
    return Tries(order=tuple(order), chance=1 - none_served, expected_minutes=minutes)


def _a_minute(source: Source) -> float:
    return source.chance / source.minutes if source.minutes else float("inf")


def also_wanted(
    part: str, wanted: Mapping[str, Sequence[str]], besides: str = ""
) -> tuple[str, ...]:
    """The tags of the machines that want a part, but for the one that asks: `wanted` has each machine's wanted parts.

    >>> also_wanted("panel", {"P7-03": ["panel"], "P7-18": ["pad", "panel"], "P7-04": ["pad"]}, besides="P7-03")
    ('P7-18',)
    """
    return tuple(
        tag for tag, parts in sorted(wanted.items()) if part in parts and tag != besides
    )
