"""Machines waiting on a pile: what may be wrong with each, what its repair takes, and what it would give as a donor."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, NamedTuple

Kind = Literal["look", "repair", "fit", "buy"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """A cause that a machine may have, how much it is believed, and its repair.

    `minutes` hold the cover and the fetching of a part too. `part` names the pool of parts that serve: one kind of
    part in one family of models, such as "fan, Tern 13"; empty where none is needed. `suspects` are pools beside it
    whose part is as bad, were this the cause.
    """

    cause: str
    belief: float
    minutes: float
    part: str = ""
    suspects: tuple[str, ...] = ()

    def blames(self, pool: str) -> float:
        """How likely the machine's own piece of that pool is the bad one, were this the cause."""
        is_suspected = pool == self.part or pool in self.suspects
        return 1 / (1 + len(self.suspects)) if is_suspected else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A part that a machine holds, by its pool, and the chance that it is good and fits if no cause suspects it."""

    part: str
    sound: float = 0.95


class Offer(NamedTuple):
    """A piece that a machine could give: its pool, the chance that it is good, and the machine's tag."""

    part: str
    good: float
    tag: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """A machine on the pile: expected minutes until its cause is known, what that may be, and what it would give.

    Beliefs sum to 1 at most; the rest is a cause that is not listed, with no repair. `look` is 0 once the cause is
    known: one remedy with belief 1, or none at all. With `ready` the first remedy is to be tried before anything is
    looked at, whether or not it is the cause: it takes its minutes and its part in any case. `offers` are its pieces as
    it could give them, `wants` the pools that its repairs may ask for: a play of the pile asks for those of every
    machine after each step, so that they are reckoned once.
    """

    tag: str
    look: float
    remedies: tuple[Remedy, ...] = ()
    pieces: tuple[Piece, ...] = ()
    ready: bool = False
    offers: tuple[Offer, ...] = field(init=False, repr=False, compare=False)
    wants: tuple[str, ...] = field(init=False, repr=False, compare=False)

    def __hash__(self) -> int:
        """By its tag, so that what was reckoned of a machine is quickly found again."""
        return hash(self.tag)

    def __post_init__(self) -> None:
        """Refuse what cannot be believed or done (ValueError), and reckon what it could give."""
        if min([self.look, *[one.minutes for one in self.remedies]]) < 0:
            raise ValueError(f"{self.tag} has negative minutes; give 0 or more")
        beliefs = [one.belief for one in self.remedies]
        if min(beliefs, default=0) < 0 or sum(beliefs) > 1 + 1e-6:
            raise ValueError(
                f"the beliefs of {self.tag} are {beliefs}; they must be shares that sum to 1 at most"
            )
        offered = tuple(
            Offer(piece.part, self.good(piece), self.tag) for piece in self.pieces
        )
        wanted = tuple(dict.fromkeys(one.part for one in self.remedies if one.part))
        # it is frozen, and these hang on nothing else
        object.__setattr__(self, "offers", offered)
        object.__setattr__(self, "wants", wanted)

    @property
    def known(self) -> bool:
        """Whether its cause is known, be it one without a repair."""
        return self.look == 0 and len(self.remedies) <= 1 and not self.ready

    @property
    def repair(self) -> Remedy | None:
        """The remedy that is to be tried next, None for a machine that is to be looked at or has none."""
        if self.remedies and (self.known or self.ready):
            return self.remedies[0]
        return None

    @property
    def unseen(self) -> bool:
        """Whether it is to be looked at next."""
        return not self.known and not self.repair

    def minutes_until(self, remedy: Remedy) -> float:
        """The minutes after which one of its remedies would have brought it to work, at least."""
        first = self.repair
        if first is None or remedy is first:
            return (0.0 if first else self.look) + remedy.minutes
        return first.minutes + self.look + remedy.minutes

    def need(self, remedy: Remedy) -> float:
        """How likely one of its remedies comes to take its part."""
        return 1.0 if remedy is self.repair else remedy.belief

    def good(self, piece: Piece) -> float:
        """The probability that one of its pieces is good, given what may be wrong with it."""
        return piece.sound * max(1 - self.suspected(piece.part), 0.0)

    def suspected(self, pool: str) -> float:
        """How much it is believed that its piece of that pool is what is wrong with it."""
        return sum(one.belief * one.blames(pool) for one in self.remedies)

    def found(self, cause: Remedy | None) -> Waiting:
        """The machine once its cause is known; None for one that is not listed."""
        return replace(
            self,
            look=0.0,
            ready=False,
            remedies=(replace(cause, belief=1.0),) if cause else (),
        )

    def after_in_vain(self) -> Waiting:
        """The machine once its next remedy was tried with a good part and did not help: it was not the cause."""
        others, left = self.remedies[1:], 1 - self.remedies[0].belief
        if not others or left <= 0:
            return self.found(None)
        return replace(
            self,
            ready=False,
            remedies=tuple(replace(one, belief=one.belief / left) for one in others),
        )

    def without(self, part: str) -> Waiting:
        """The machine once its piece of that pool is gone."""
        return replace(
            self, pieces=tuple(piece for piece in self.pieces if piece.part != part)
        )


def offers(machines: Iterable[Waiting]) -> Iterator[Offer]:
    """Every piece that these machines could give."""
    for machine in machines:
        yield from machine.offers


@dataclass(frozen=True, slots=True, kw_only=True)
class Pile:
    """Everything that the next step depends on: machines, donors already cut up, minutes and cents left, prices.

    `prices` are cents by pool; what cannot be bought is not in it. A drawer of parts is a donor among `donors`.
    """

    waiting: tuple[Waiting, ...]
    donors: tuple[Waiting, ...] = ()
    minutes: float
    cents: int = 0
    prices: Mapping[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse a tag that stands twice: ValueError."""
        tags = [machine.tag for machine in (*self.waiting, *self.donors)]
        if len(set(tags)) < len(tags):
            twice = next(tag for tag in tags if tags.count(tag) > 1)
            raise ValueError(
                f"{twice} stands twice on the pile; a tag names one machine, waiting or cut up"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class PileStep:
    """One thing to do next: look, repair without a part, fit a donor's piece, or buy one and fit it.

    `chance` is that of the machine working after it, `minutes` and `cents` what it takes. `gain` are the working
    machines a minute that it can be expected to bring, a look with the repairs that follow it.
    """

    kind: Kind
    tag: str
    minutes: float
    chance: float
    cents: int = 0
    part: str = ""
    donor: str = ""
    gain: float = 0.0


def after(pile: Pile, step: PileStep, shown: Remedy | bool | None) -> Pile:
    """The pile after a step: a look has shown a cause or None, every other step whether the machine works now.

    False stands for a piece that did not serve, None for a repair that was made in vain, since it was not the cause. A
    donor that gives a piece leaves the waiting machines for good; a piece that did not serve is gone too.
    """
    machines = {machine.tag: machine for machine in pile.waiting}
    donors = {donor.tag: donor for donor in pile.donors}
    machine = machines[step.tag]
    if step.kind == "look":
        machines[step.tag] = machine.found(shown if isinstance(shown, Remedy) else None)
    elif shown is None:
        machines[step.tag] = machine.after_in_vain()
    elif shown:
        del machines[step.tag]
    if step.donor:
        donor = machines.pop(step.donor, None) or donors[step.donor]
        donors[step.donor] = learned(donor, step.part, shown is not False).without(
            step.part
        )
    return replace(
        pile,
        waiting=tuple(machines.values()),
        donors=tuple(donors.values()),
        minutes=pile.minutes - step.minutes,
        cents=pile.cents - step.cents,
    )


def learned(donor: Waiting, part: str, was_good: bool) -> Waiting:
    """The donor's beliefs once a piece of it was tried (Bayes' rule): a good one clears the causes that suspect it."""
    sound = next(piece.sound for piece in donor.pieces if piece.part == part)

    def shows(remedy: Remedy | None) -> float:
        good = sound * (1 - remedy.blames(part)) if remedy else sound
        return good if was_good else 1 - good

    unlisted = (1 - sum(one.belief for one in donor.remedies)) * shows(None)
    weights = [one.belief * shows(one) for one in donor.remedies]
    whole = sum(weights) + unlisted
    if whole <= 0:
        return donor
    beliefs = zip(donor.remedies, weights, strict=True)
    return replace(
        donor,
        remedies=tuple(replace(one, belief=weight / whole) for one, weight in beliefs),
    )
