"""Moves of money from records: what was bought, worked, moved and lost, in the order in which it was written down."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from kb.history import kinds
from kb.history.intake import tag_key
from kb.history.jobs import body_of, job_of
from kb.history.record import Record
from kb.history.standing import models_told, standing
from kb.machines.cost.lots import LotMove, LotPaid, UnitIn
from kb.machines.cost.moves import (
    GivenUp,
    Move,
    PartOut,
    PiecesBought,
    PieceUsed,
    TakenBack,
    UnitGone,
    Worked,
)
from kb.machines.cost.shares import Amount
from kb.machines.lots import LotTold, lot_key
from kb.model import Job, WayOut

#: What a part weighs in a donor that the list of a complete machine does not name, such as a ribbon.
SMALL_PART = 1.0
#: What stands for all of a donor that nobody will take out.
REST = "all else"

PartsOf = Callable[[str], Mapping[str, Amount]]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopRates:
    """What the shop reckons with: cents an hour, minutes of each check-out line, and what weighs what in a model."""

    hourly_cents: int = 0
    line_minutes: Mapping[str, float] = field(default_factory=dict)
    parts_of: PartsOf = lambda _: {}


@dataclass(frozen=True, slots=True)
class MovesTold:
    """The moves that records tell, and the minutes worked on each machine (by the key of its tag)."""

    moves: tuple[LotMove | Move, ...]
    minutes: Mapping[str, float]


def moves_told(
    records: Iterable[Record], lots: Mapping[str, LotTold], rates: ShopRates
) -> MovesTold:
    """The moves of all records that stand, `lots` being what was told of purchases, by folded name.

    Machines go by their tag's key, lots by their folded name. A machine from which a part was taken counts as given up
    from then on, even where nobody said so.
    """
    fold = _MoneyFold(standing(records), rates)
    paid = [LotPaid(lot, told.cents, told.freight_cents) for lot, told in lots.items()]
    moves = list(fold.moves())
    return MovesTold((*paid, *moves), dict(fold.minutes))


class _MoneyFold:
    """Goes through the records that stand, once to know which parts are taken out, and once more for the moves."""

    def __init__(self, records: list[Record], rates: ShopRates) -> None:
        self._rates = rates
        self._records = records
        self._models = models_told(records)
        self._taken: defaultdict[str, list[str]] = defaultdict(list)
        self._givers: set[str] = set()
        self._bought_for: set[tuple[str, str]] = set()
        #: The donors of parts that were taken out for a machine and are not named on a closed job of it yet.
        self._fetched: defaultdict[tuple[str, str], set[str]] = defaultdict(set)
        self.minutes: defaultdict[str, float] = defaultdict(float)
        for record in records:
            self._look_at(record)

    def moves(self) -> Iterator[LotMove | Move]:
        """Every move, in order."""
        numbers: defaultdict[tuple[str, str], int] = defaultdict(int)
        for record in self._records:
            for move in self._of(record):
                if isinstance(move, PartOut):
                    yield from self._given_up_by_now(move.donor)
                    numbers[move.donor, move.part] += 1
                    yield PartOut(
                        move.donor,
                        _nth(move.part, numbers[move.donor, move.part]),
                        move.tag,
                        move.dead,
                    )
                else:
                    yield move

    def _look_at(self, record: Record) -> None:
        if record.kind == kinds.CLOSE.name:
            job = job_of(record)
            if job.donor and job.part:
                self._taken[tag_key(job.donor)].append(job.part)
        elif record.kind == kinds.PART_OUT.name:
            body = body_of(record)
            self._taken[tag_key(str(body.get("donor", "")))].append(
                str(body.get("part", ""))
            )

    def _of(self, record: Record) -> Iterator[LotMove | Move]:
        if record.kind == kinds.CLOSE.name:
            yield from self._closed(job_of(record))
            return
        body = {
            name: str(value)
            for name, value in body_of(record).items()
            if value is not None
        }
        tag = tag_key(body.get("tag", ""))
        match record.kind:
            case kinds.UNIT_IN.name if body.get("lot"):
                yield UnitIn(lot_key(body["lot"]), tag)
            case kinds.FUNCTION.name:
                yield from self._worked(
                    tag, self._rates.line_minutes.get(body.get("line", ""), 0.0)
                )
            case kinds.PART_BOUGHT.name:
                yield from self._bought(body)
            case kinds.PART_OUT.name:
                part, donor, dead = (
                    body.get("part", ""),
                    tag_key(body.get("donor", "")),
                    body.get("good") == "no",
                )
                if not dead:
                    self._fetched[tag, part].add(donor)
                yield PartOut(donor, part, tag, dead)
            case kinds.DONOR.name:
                yield from self._given_up_by_now(tag)
            case kinds.UNDONOR.name if tag in self._givers:
                self._givers.discard(tag)
                yield TakenBack(tag)
            case kinds.GONE.name:
                yield UnitGone(tag, _how(body.get("how", "")))

    def _closed(self, job: Job) -> Iterator[Move]:
        tag = tag_key(job.unit)
        if not tag:
            return
        yield from self._worked(tag, job.minutes or 0.0)
        if job.part:
            yield from self._fitted(job.part, tag, job.donor)

    def _fitted(self, part: str, tag: str, donor: str) -> Iterator[Move]:
        """A part ended a job: out of the donor that is named, or else out of the drawer, unless it moved before."""
        # what moved when it was taken out
        fetched = self._fetched.pop((tag, part), set())
        if donor:
            if tag_key(donor) not in fetched:
                yield PartOut(tag_key(donor), part, tag)
        elif not fetched and (tag, part) not in self._bought_for:
            yield PieceUsed(part, tag)

    def _bought(self, body: Mapping[str, str]) -> Iterator[Move]:
        tag = tag_key(body.get("for", ""))
        count = int(body.get("count") or 1)
        if count > 0:
            self._bought_for.add((tag, body.get("part", "")))
            yield PiecesBought(
                body.get("part", ""), count, int(body.get("cents") or 0), tag
            )

    def _worked(self, tag: str, minutes: float) -> Iterator[Move]:
        if tag and minutes > 0:
            self.minutes[tag] += minutes
            yield Worked(tag, minutes, self._rates.hourly_cents)

    def _given_up_by_now(self, tag: str) -> Iterator[Move]:
        """That a machine is given up for its parts, unless that was told before."""
        if tag and tag not in self._givers:
            self._givers.add(tag)
            yield GivenUp(tag, self._parts_in(tag))

    def _parts_in(self, tag: str) -> dict[str, Amount]:
        """What is in a donor with its weights: the list of its model, and whatever else leaves it one day."""
        parts = dict(self._rates.parts_of(self._models.get(tag, "")))
        for part in set(self._taken[tag]) - set(parts):
            for number in range(1, self._taken[tag].count(part) + 1):
                parts[_nth(part, number)] = SMALL_PART
        rest = 100.0 - sum(float(weight) for weight in parts.values())
        return parts | {REST: rest} if rest > 0 else parts


def _nth(part: str, number: int) -> str:
    """The name of the n-th piece of a part in one machine.

    >>> _nth("fan", 1), _nth("memory module", 2)
    ('fan', 'memory module 2')
    """
    return part if number == 1 else f"{part} {number}"


def _how(told: str) -> WayOut:
    """The word with which a machine left; one that this program never wrote counts as a loss."""
    match told:
        case "sold" | "given" | "waste" | "returned":
            return told
        case _:
            return "waste"
