"""What records tell of parts: which were tried where, which left donors, what pieces cost and how long they took."""

from __future__ import annotations

import statistics
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from kb.history import kinds
from kb.history.intake import tag_key
from kb.history.jobs import body_of
from kb.history.record import Record
from kb.history.standing import standing
from kb.history.taught_fits import fit_id
from kb.machines.drawer import (
    DrawerPiece,
    PieceFetched,
    PieceFitted,
    left_in_drawer,
    of_models,
)
from kb.machines.fits import Fitting, PartTry, Strength, chance, fitting, strengths
from kb.machines.fits.families import Shown
from kb.machines.fits.fitting import counted_once

#: What a try shows, by the word of its record; any other word claims.
_SHOWN: Mapping[str, Shown] = {"worked": "worked", "failed": "failed"}
#: A bought piece is for a machine of another model from this chance of fitting on.
SERVES = 0.8


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

    @property
    def days_waited(self) -> int:
        """How many days passed until pieces of it came last."""
        return (_moment(self.came_at) - _moment(self.at)).days


@dataclass(frozen=True, slots=True)
class PricePaid:
    """What a piece cost, in whole cents; `paid_for` is the model that it was for, if that is another than is asked for.

    It is empty for a piece that was bought for the very model, or for none.
    """

    cents: int
    paid_for: str = ""


@dataclass(frozen=True, slots=True)
class PartsTold:
    """All that is told of parts; donors go by the key of their tag, models as they were written last.

    `strengths` are what the tries of all kinds together teach of each, `drawer` the pieces that were laid in, `fetched`
    those that came for one machine.
    """

    tries: Mapping[str, Sequence[PartTry]] = field(default_factory=dict)
    gone: Mapping[tuple[str, str], int] = field(default_factory=dict)
    purchases: tuple[Purchase, ...] = ()
    strengths: Mapping[str, Strength] = field(default_factory=dict)
    drawer: tuple[DrawerPiece, ...] = ()
    fetched: tuple[PieceFetched, ...] = ()

    def fitting(self, part: str, giver: str, receiver: str) -> Fitting:
        """What is known of a part of one model in another: the evidence, and how likely it fits."""
        strength = self._strength(part)
        return fitting(
            self.tries.get(part, ()), giver, receiver, strength.alpha, strength.claim
        )

    def chance(self, part: str, giver: str, receiver: str) -> float:
        """The chance that a part of one model fits another; nothing is reckoned with where nothing was tried."""
        tries = self.tries.get(part, ())
        if giver != receiver and not tries:
            return 0.0
        strength = self._strength(part)
        shown = ((one.giver, one.receiver, one.shown) for one in tries)
        return chance(shown, giver, receiver, strength.alpha, strength.claim)

    def with_jobs(
        self, fitted: Iterable[PieceFitted], models: Mapping[str, str]
    ) -> PartsTold:
        """The same with the drawer as jobs left it; `models` are those of donors, by the key of their tag."""
        return replace(
            self,
            drawer=left_in_drawer(of_models(self.drawer, models), fitted, self.fetched),
        )

    def _strength(self, part: str) -> Strength:
        return self.strengths.get(part, Strength())

    def price(self, part: str, model: str = "") -> PricePaid | None:
        """What a piece cost when it was bought last: for that model, else for none, else for another; None if never.

        Nothing is said by the price of one that is known not to fit.
        """
        bought = [one for one in self.purchases if one.part == part and one.count]
        last = {one.model.casefold(): one for one in bought}
        plain = last.get(model.casefold()) or last.get("")
        if plain:
            return PricePaid(plain.each)
        misfits = self._misfits(part, model)
        for one in reversed(bought):
            if one.model.casefold() not in misfits:
                return PricePaid(one.each, one.model)
        return None

    def _misfits(self, part: str, model: str) -> set[str]:
        """The models (folded) of which a part was tried in this one, or the other way round, and did not fit."""
        found = set()
        for tried in self.tries.get(part, ()):
            giver, receiver = tried.giver.casefold(), tried.receiver.casefold()
            if tried.shown == "failed" and model.casefold() in (giver, receiver):
                found.add(receiver if giver == model.casefold() else giver)
        return found

    def days(self, part: str) -> int | None:
        """After how many days a bought piece came, as often as not later as earlier; None if that is not known."""
        came = [one for one in self.purchases if one.came_at]
        alike = [one for one in came if one.part == part] or came
        if not alike:
            return None
        return round(statistics.median(one.days_waited for one in alike))

    @property
    def on_the_way(self) -> tuple[Purchase, ...]:
        """The purchases of which pieces have not come yet."""
        return tuple(one for one in self.purchases if one.came < one.count)

    def coming(self, part: str, needs: Mapping[str, int]) -> Mapping[str, int]:
        """How many pieces on the way each model may count on, of which so many are needed; each piece is told once.

        The model that a piece was bought for comes first, then others that it fits; one bought for no model serves all.
        """
        given = dict.fromkeys(needs, 0)
        for bought in self.on_the_way:
            if bought.part != part:
                continue
            served = [model for model in needs if self.serves(bought, model)]
            served.sort(key=lambda model: model.casefold() != bought.model.casefold())
            left = bought.count - bought.came
            for model in served:
                taken = min(left, max(needs[model] - given[model], 0))
                given[model] += taken
                left -= taken
            if served:
                given[served[0]] += left
        return given

    def serves(self, bought: Purchase, model: str) -> bool:
        """Whether a piece of a purchase is for machines of a model: bought for it or for none, or known to fit it."""
        if bought.model.casefold() in ("", model.casefold()):
            return True
        return self.fitting(bought.part, bought.model, model).likely >= SERVES


@dataclass(frozen=True, slots=True)
class Donated:
    """A donor's part that ended a job: from which machine (its tag's key) and model, into which model, and when.

    `job` is the job's id.
    """

    part: str
    donor: str
    giver: str
    receiver: str
    at: str
    job: str = ""


def parts_told(records: Iterable[Record], donated: Iterable[Donated] = ()) -> PartsTold:
    """What records tell of parts, and the jobs that a donor's part ended; struck records tell nothing.

    A job with a donor is a try that worked, told once even where another shop told it too. A part that was dead, or not
    the cause, is no misfit.
    """
    fold = _PartsFold()
    for one in donated:
        fold.take_job(one)
    for record in standing(records):
        fold.take(record)
    return PartsTold(
        tries=dict(fold.tries),
        gone=dict(fold.gone),
        purchases=tuple(fold.purchases.values()),
        strengths=_taught_by(fold.tries),
        drawer=tuple(piece for piece in fold.drawer.values() if piece.count > 0),
        fetched=tuple(fold.fetched),
    )


def _taught_by(tries: Mapping[str, Sequence[PartTry]]) -> dict[str, Strength]:
    in_time = {
        part: sorted(done, key=lambda one: one.at) for part, done in tries.items()
    }
    return strengths({part: counted_once(done) for part, done in in_time.items()})


class _PartsFold:
    """Takes in one after another what tells of parts."""

    def __init__(self) -> None:
        self.tries: defaultdict[str, list[PartTry]] = defaultdict(list)
        self.gone: Counter[tuple[str, str]] = Counter()
        self.purchases: dict[str, Purchase] = {}
        self.drawer: dict[str, DrawerPiece] = {}
        self.fetched: list[PieceFetched] = []
        self.known_fits: set[str] = set()

    def take_job(self, one: Donated) -> None:
        """A part left its donor, and fitted where its model is known."""
        self.gone[one.donor, one.part] += 1
        if one.giver:
            worked = PartTry(
                giver=one.giver, receiver=one.receiver, shown="worked", at=one.at
            )
            self.tries[one.part].append(worked)
            self.known_fits.add(fit_id(one.job))

    def take(self, record: Record) -> None:
        """What a record says; most kinds say nothing of parts."""
        body = {
            name: str(value)
            for name, value in body_of(record).items()
            if value is not None
        }
        match record.kind:
            case kinds.PART_OUT.name:
                self.gone[tag_key(body.get("donor", "")), body.get("part", "")] += 1
                self._left_a_donor(record, body)
            case kinds.FIT.name if record.origin not in self.known_fits:
                self.tries[body["part"]].append(_fit(body, record.at))
            case kinds.PART_BOUGHT.name:
                self.purchases[body["purchase"]] = bought = _bought(body, record.at)
                if bought.tag:
                    self.fetched.append(PieceFetched(bought.part, tag_key(bought.tag)))
            case kinds.PART_IN.name if body["purchase"] in self.purchases:
                self._came(record, body)

    def _came(self, record: Record, body: Mapping[str, str]) -> None:
        """Pieces came, for a machine or for the drawer; none is one out of the drawer for a machine.

        What a list tells of days long gone is not believed to lie here still.
        """
        known, count = self.purchases[body["purchase"]], int(body.get("count") or 0)
        at = body.get("came_on") or record.at
        if count:
            self.purchases[known.purchase] = replace(
                known, came=known.came + count, came_at=at
            )
        key = tag_key(body.get("tag", ""))
        if key:
            self._fetched_for(key, known, is_out_of_drawer=not count)
        elif count and not body.get("came_on"):
            self._lay_in(
                record,
                known.part,
                known.purchase,
                model=known.model,
                count=count,
                is_bought=True,
            )

    def _fetched_for(self, key: str, bought: Purchase, is_out_of_drawer: bool) -> None:
        """A piece of a purchase is for a machine, whose own purchase was told as such when it was bought."""
        if key != tag_key(bought.tag):
            self.fetched.append(PieceFetched(bought.part, key))
        if is_out_of_drawer:
            self._out_of_drawer(bought)

    def _left_a_donor(self, record: Record, body: Mapping[str, str]) -> None:
        """A part left a donor, for a machine or for the drawer; a dead one goes nowhere."""
        part, key = body.get("part", ""), tag_key(body.get("tag", ""))
        if body.get("good") == "no":
            return
        if key:
            self.fetched.append(PieceFetched(part, key))
        else:
            good = "yes" if body.get("good") == "yes" else "unknown"
            self._lay_in(record, part, body.get("donor", ""), good=good)

    def _lay_in(self, record: Record, part: str, origin: str, **more: Any) -> None:
        self.drawer[record.id] = DrawerPiece(
            record=record.id, part=part, origin=origin, at=record.at, **more
        )

    def _out_of_drawer(self, bought: Purchase) -> None:
        for record, piece in self.drawer.items():
            if piece.origin == bought.purchase and piece.count > 0:
                self.drawer[record] = replace(piece, count=piece.count - 1)
                return


def _fit(body: Mapping[str, str], at: str) -> PartTry:
    return PartTry(
        giver=body["from_model"],
        receiver=body["to_model"],
        shown=_SHOWN.get(body.get("shown", ""), "claimed"),
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
