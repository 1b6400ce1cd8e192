"""What records tell of parts: which were tried where, which left donors, what pieces cost and how long they took."""

from __future__ import annotations

import statistics
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from kb.history import kinds
from kb.history.intake import tag_key
from kb.history.record import Record
from kb.history.standing import standing
from kb.history.units import body_of
from kb.machines.fits import Fitting, PartTry, Strength, chance, fitting, strengths
from kb.machines.fits.fitting import counted_once


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """Pieces of a part that were bought: for which model and machine, for how much in all, and how many came."""

    purchase: str
    part: str
    model: str
    count: int
    cents: int
    tag: str
    at: str
    came: int = 0
    came_at: str = ""

    @property
    def each(self) -> int:
        """What a piece cost, in whole cents."""
        return round(self.cents / self.count) if self.count else 0


@dataclass(frozen=True, slots=True)
class PartsTold:
    """All that is told of parts; donors go by the key of their tag, models as they were written last.

    `strengths` are what the tries of all kinds together teach of each.
    """

    tries: Mapping[str, Sequence[PartTry]] = field(default_factory=dict)
    gone: Mapping[tuple[str, str], int] = field(default_factory=dict)
    purchases: tuple[Purchase, ...] = ()
    strengths: Mapping[str, Strength] = field(default_factory=dict)

    def fitting(self, part: str, giver: str, receiver: str) -> Fitting:
        """What is known of a part of one model in another: the evidence, and how likely it fits."""
        strength = self._strength(part)
        return fitting(self.tries.get(part, ()), giver, receiver, strength.alpha, strength.claim)

    def chance(self, part: str, giver: str, receiver: str) -> float:
        """The chance that a part of one model fits another; nothing is reckoned with where nothing was tried."""
        tries = self.tries.get(part, ())
        if giver != receiver and not tries:
            return 0.0
        strength = self._strength(part)
        shown = ((one.giver, one.receiver, one.shown) for one in tries)
        return chance(shown, giver, receiver, strength.alpha, strength.claim)

    def _strength(self, part: str) -> Strength:
        return self.strengths.get(part, Strength())

    def price(self, part: str, model: str = "") -> int | None:
        """What a piece cost when it was bought last, for that model rather than for any; None if it never was."""
        bought = [one for one in self.purchases if one.part == part and one.count]
        own = [one for one in bought if one.model.casefold() == model.casefold()]
        return (own or bought)[-1].each if bought else None

    def days(self, part: str) -> int | None:
        """After how many days a bought piece came, as often as not later as earlier; None if that is not known."""
        came = [one for one in self.purchases if one.came_at]
        own = [one for one in came if one.part == part] or came
        waits = [(_moment(one.came_at) - _moment(one.at)).days for one in own]
        return round(statistics.median(waits)) if waits else None

    @property
    def on_the_way(self) -> tuple[Purchase, ...]:
        """The purchases of which pieces have not come yet."""
        return tuple(one for one in self.purchases if one.came < one.count)


@dataclass(frozen=True, slots=True)
class Donated:
    """A donor's part that ended a job: from which machine (its tag's key) and model, into which model, and when."""

    part: str
    donor: str
    giver: str
    receiver: str
    at: str


def parts_told(records: Iterable[Record], donated: Iterable[Donated] = ()) -> PartsTold:
    """What records tell of parts, and the jobs that a donor's part ended; struck records tell nothing.

    A job with a donor is a try that worked. A part that was dead, or not the cause, is no misfit.
    """
    fold = _PartsFold()
    for one in donated:
        fold.take_job(one)
    for record in standing(records):
        fold.take(record)
    return PartsTold(dict(fold.tries), dict(fold.gone), tuple(fold.purchases.values()), _taught_by(fold.tries))


def _taught_by(tries: Mapping[str, Sequence[PartTry]]) -> dict[str, Strength]:
    in_time = {part: sorted(done, key=lambda one: one.at) for part, done in tries.items()}
    return strengths({part: counted_once(done) for part, done in in_time.items()})


class _PartsFold:
    """Takes in one after another what tells of parts."""

    def __init__(self) -> None:
        self.tries: defaultdict[str, list[PartTry]] = defaultdict(list)
        self.gone: Counter[tuple[str, str]] = Counter()
        self.purchases: dict[str, Purchase] = {}

    def take_job(self, one: Donated) -> None:
        """A part left its donor, and fitted where its model is known."""
        self.gone[one.donor, one.part] += 1
        if one.giver:
            worked = PartTry(giver=one.giver, receiver=one.receiver, shown="worked", at=one.at)
            self.tries[one.part].append(worked)

    def take(self, record: Record) -> None:
        """What a record says; most kinds say nothing of parts."""
        body = {name: str(value) for name, value in body_of(record).items() if value is not None}
        match record.kind:
            case kinds.PART_OUT.name:
                self.gone[tag_key(body.get("donor", "")), body.get("part", "")] += 1
            case kinds.FIT.name:
                self.tries[body["part"]].append(_fit(body, record.at))
            case kinds.PART_BOUGHT.name:
                self.purchases[body["purchase"]] = _bought(body, record.at)
            case kinds.PART_IN.name if body["purchase"] in self.purchases:
                self._came(body["purchase"], int(body.get("count") or 0), body.get("came_on") or record.at)

    def _came(self, purchase: str, count: int, at: str) -> None:
        known = self.purchases[purchase]
        self.purchases[purchase] = replace(known, came=known.came + count, came_at=at)


def _fit(body: Mapping[str, str], at: str) -> PartTry:
    shown = body.get("shown", "")
    return PartTry(
        giver=body["from_model"],
        receiver=body["to_model"],
        shown="worked" if shown == "worked" else "failed" if shown == "failed" else "claimed",
        at=at,
        reason=body.get("why", ""),
        source=body.get("source", ""),
    )


def _bought(body: Mapping[str, str], at: str) -> Purchase:
    return Purchase(
        purchase=body["purchase"],
        part=body["part"],
        model=body.get("model", ""),
        count=int(body.get("count") or 0),
        cents=int(body.get("cents") or 0),
        tag=body.get("for", ""),
        at=body.get("bought_on") or at,
    )


def _moment(at: str) -> datetime:
    return datetime.fromisoformat(at[:10])
