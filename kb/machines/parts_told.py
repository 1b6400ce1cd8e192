"""What records tell of parts: which were tried where, which left donors, what pieces cost and how long they took."""

from __future__ import annotations

import statistics
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from kb.history import kinds
from kb.history.intake import tag_key
from kb.history.jobs import job_of
from kb.history.record import Record
from kb.history.standing import models_told, standing
from kb.history.units import body_of
from kb.machines.fits import PartTry


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
    """All that is told of parts; donors go by the key of their tag, models as they were written last."""

    tries: Mapping[str, Sequence[PartTry]] = field(default_factory=dict)
    gone: Mapping[tuple[str, str], int] = field(default_factory=dict)
    purchases: tuple[Purchase, ...] = ()

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


def parts_told(records: Iterable[Record]) -> PartsTold:
    """What these records tell of parts; struck records and retracted jobs tell nothing.

    A confirmation with a donor is a try that worked. A part that was dead, or not the cause, is no misfit.
    """
    fold = _PartsFold(standing(records))
    return PartsTold(dict(fold.tries), dict(fold.gone), tuple(fold.purchases.values()))


class _PartsFold:
    """Goes through the records that stand, once for which model a tag is, and once for what they tell."""

    def __init__(self, records: list[Record]) -> None:
        self._models = models_told(records)
        self.tries: defaultdict[str, list[PartTry]] = defaultdict(list)
        self.gone: Counter[tuple[str, str]] = Counter()
        self.purchases: dict[str, Purchase] = {}
        for record in records:
            self._take(record)

    def _take(self, record: Record) -> None:
        if record.kind == kinds.CLOSE.name:
            job = job_of(record)
            if job.part and job.donor:
                self.gone[tag_key(job.donor), job.part] += 1
                self._tried(job.part, tag_key(job.donor), job.model, record.at)
            return
        body = {name: str(value) for name, value in body_of(record).items() if value is not None}
        match record.kind:
            case kinds.PART_OUT.name:
                self.gone[tag_key(body.get("donor", "")), body.get("part", "")] += 1
            case kinds.FIT.name:
                self.tries[body["part"]].append(_fit(body, record.at))
            case kinds.PART_BOUGHT.name:
                self.purchases[body["purchase"]] = _bought(body, record.at)
            case kinds.PART_IN.name if body["purchase"] in self.purchases:
                self._came(body["purchase"], int(body.get("count") or 0), record.at)

    def _tried(self, part: str, donor: str, receiver: str, at: str) -> None:
        if giver := self._models.get(donor, ""):
            self.tries[part].append(PartTry(giver=giver, receiver=receiver, shown="worked", at=at))

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
