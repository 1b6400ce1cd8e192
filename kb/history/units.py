"""Machines out of records: units by their tags, with what was seen, done, wanted, taken and signed.

A unit exists as soon as any record names its tag; nothing here is ever stored as a status.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from kb.history import kinds
from kb.history.intake import tag_key
from kb.history.jobs import OpenJob, state_of
from kb.history.record import Record
from kb.history.trouble import UnreadableRecord

#: What stands for a model that nobody has read off the machine yet, folded.
UNKNOWN_MODELS = frozenset({"", "unknown", "?", "-"})

Shown = Literal["good", "bad", "waived", "not-there"]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineShown:
    """What one line of the check-out list showed last: when (UTC), by whom, why, and the job that a failure opened.

    `seq` places it among all records, so that it can be told what was done to the machine after it.
    """

    line: str
    shown: Shown
    seq: int
    record: str
    at: str = ""
    why: str = ""
    value: str = ""
    by: str = ""
    job: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A part that a machine waits for, since when (UTC), and the job that needs it."""

    part: str
    record: str
    at: str
    seq: int
    job: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A part that left a donor, for which machine if it is known, and whether it was good."""

    part: str
    donor: str
    tag: str
    good: Literal["yes", "no", "unknown"]
    record: str
    at: str
    seq: int
    job: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceCame:
    """A bought part that came for a machine, out of which purchase and when (UTC)."""

    part: str
    purchase: str
    record: str
    at: str
    seq: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Signature:
    """The check-out was signed: by whom, what it said, and the fingerprint of the list then in force."""

    by: str
    at: str
    seq: int
    record: str
    look: str = ""
    wear: str = ""
    wipe: str = ""
    open: str = ""
    list: str = ""


@dataclass(frozen=True, slots=True)
class Remarked:
    """A note put on a machine at any time."""

    text: str
    by: str
    at: str
    record: str


@dataclass(frozen=True, slots=True)
class RepairDone:
    """That work was done on the machine: a job closed or a fix tried, on which job, by whom, at which record."""

    seq: int
    at: str
    job: str
    by: str
    fix: str
    part: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One machine as the records tell of it; `key` is its tag without case and blanks.

    `donor` says why it was given up for parts (empty if it was not), `gone` how it left. `work` is all that was
    repaired or tried on it, in order; `lines` what each line of the check-out showed last, and `once_bad` those that
    were ever bad, even if they are good by now.
    """

    key: str
    tag: str
    model: str = ""
    lot: str = ""
    place: str = ""
    words: str = ""
    look: str = ""
    serial: str = ""
    came_at: str = ""
    with_: str = ""
    jobs: tuple[OpenJob, ...] = ()
    lines: Mapping[str, LineShown] = field(default_factory=dict)
    once_bad: frozenset[str] = frozenset()
    wanted: tuple[Wanted, ...] = ()
    moved: tuple[Moved, ...] = ()
    pieces: tuple[PieceCame, ...] = ()
    work: tuple[RepairDone, ...] = ()
    notes: tuple[Remarked, ...] = ()
    signature: Signature | None = None
    is_donor: bool = False
    donor: str = ""
    gone: str = ""
    gone_cents: int = 0
    last_at: str = ""

    @property
    def is_there(self) -> bool:
        """Whether any record that counts still names it."""
        return bool(self.last_at)

    @property
    def to_fit(self) -> tuple[str, ...]:
        """The parts that came for it, from a donor or by purchase, after which none of its jobs was closed yet."""
        came = [(one.seq, one.part) for one in self.moved if tag_key(one.tag) == self.key and one.good != "no"]
        came += [(one.seq, one.part) for one in self.pieces]
        worked = max((one.seq for one in self.work), default=0)
        waits = {one.part for one in self.wanted}
        return tuple(dict.fromkeys(part for seq, part in sorted(came) if seq > worked and part not in waits))

    @property
    def open_jobs(self) -> tuple[OpenJob, ...]:
        """Its jobs that are on the bench."""
        return tuple(job for job in self.jobs if job.closed is None and not job.retracted)

    def is_mended(self, line: LineShown) -> bool:
        """Whether the job that a failed line opened was closed with its cause."""
        return any(job.job == line.job and job.closed and not job.retracted for job in self.jobs)

    @property
    def repairers(self) -> frozenset[str]:
        """The initials of everybody who repaired something on it, folded."""
        return frozenset(one.by.strip().casefold() for one in self.work if one.by.strip())

    @property
    def is_signed(self) -> bool:
        """Whether a signature stands: nothing was repaired since and nothing failed, and no repairer signed."""
        signed = self.signature
        if signed is None or signed.by.strip().casefold() in self.repairers:
            return False
        worked_since = any(one.seq > signed.seq for one in self.work)
        failed_since = any(one.shown == "bad" and one.seq > signed.seq for one in self.lines.values())
        return not worked_since and not failed_since and not self.open_jobs


def tags_named(record: Record) -> tuple[str, ...]:
    """The keys of the tags that a record's own body names: one for most kinds, two where a part moves."""
    body = body_of(record)
    named = [str(body.get(name, "")) for name in _TAG_FIELDS.get(record.kind, ())]
    return tuple(dict.fromkeys(key for key in map(tag_key, named) if key))


def is_of_another(record: Record, own_shops: Collection[str]) -> bool:
    """Whether a record is a job of another shop, in which tags name the machines there and none of ours."""
    return record.kind == kinds.CLOSE.name and record.shop not in own_shops


def unit_of(key: str, records: Iterable[Record]) -> Unit:
    """The machine of that tag key, out of all records that name it and all records of its jobs, in their order."""
    fold = _Fold(key)
    for record in records:
        fold.take(record)
    return fold.unit()


def body_of(record: Record) -> dict[str, object]:
    """The body of a record; raises UnreadableRecord."""
    try:
        body = json.loads(record.body)
    except (TypeError, ValueError) as error:
        raise UnreadableRecord(record.seq) from error
    if not isinstance(body, dict):
        raise UnreadableRecord(record.seq)
    return body


#: Where the bodies of records name machines.
_TAG_FIELDS: Mapping[str, tuple[str, ...]] = {
    kinds.OPEN.name: ("unit",),
    kinds.CLOSE.name: ("unit", "donor"),
    kinds.PART_OUT.name: ("donor", "tag"),
    kinds.PART_BOUGHT.name: ("for",),
} | {kind.name: ("tag",) for kind in kinds.OF_THE_FLOOR if "tag" in kind.body and kind is not kinds.PART_OUT}


def is_unknown(model: str) -> bool:
    """Whether a model is one that nobody has read off the machine yet.

    >>> is_unknown(" Unknown "), is_unknown("Tern 13")
    (True, False)
    """
    return model.strip().casefold() in UNKNOWN_MODELS


class _Fold:
    """Takes the records of one machine in turn; a class because each kind changes another part of what is known."""

    def __init__(self, key: str) -> None:
        self.key = key
        self.told: dict[str, str] = {}
        self.of_jobs: dict[str, list[Record]] = {}
        self.of_floor: dict[str, Record] = {}

    def take(self, record: Record) -> None:
        """Keep a record where it belongs; one that is struck goes."""
        if record.kind == kinds.STRUCK.name:
            self.of_floor.pop(str(body_of(record).get("record", "")), None)
        elif record.kind in _FLOOR_NAMES:
            self.of_floor[record.id] = record
        else:
            self.of_jobs.setdefault(record.job, []).append(record)

    def unit(self) -> Unit:
        """What all of it tells."""
        jobs = [state_of(job, records) for job, records in self.of_jobs.items() if job]
        own = [job for job in jobs if tag_key(job.closed.unit if job.closed else job.unit) == self.key]
        work = sorted(_work_on(own, self.of_jobs), key=lambda one: one.seq)
        moved = sorted(_each_once([*self._moved(), *_given_by_jobs(jobs, self.of_jobs)]), key=lambda one: one.seq)
        facts = self._facts(own)
        return Unit(
            key=self.key,
            tag=facts.pop("tag", self.key),
            jobs=tuple(own),
            lines=self._lines(),
            once_bad=self._once_bad(),
            wanted=self._wanted(own),
            moved=tuple(moved),
            pieces=self._pieces(),
            work=tuple(work),
            notes=self._notes(),
            signature=self._signature(),
            is_donor=self._donor() is not None,
            donor=self._donor() or "",
            gone=self._gone()[0],
            gone_cents=self._gone()[1],
            last_at=self._last_at({job.job for job in own} | {one.job for one in moved}),
            **facts,
        )

    def _last_at(self, jobs: Collection[str]) -> str:
        """The time of the last record of the floor or of one of these jobs, empty if there is none."""
        of_jobs = [record for job, records in self.of_jobs.items() if job in jobs for record in records]
        return max((record.at for record in (*self.of_floor.values(), *of_jobs)), default="")

    def _bodies(self, kind: kinds.Kind) -> list[tuple[Record, dict[str, object]]]:
        return [(record, body_of(record)) for record in self.of_floor.values() if record.kind == kind.name]

    def _facts(self, jobs: Sequence[OpenJob]) -> dict[str, str]:
        """Tag, model, lot and so on: as last told on arrival, else as its jobs tell."""
        facts = {**_told_by(jobs), **self._arrival()}
        if place := self._place(jobs):
            facts["place"] = place
        for _, body in self._bodies(kinds.HANDED):
            facts["with_"] = str(body.get("to", ""))
        if "tag" not in facts:
            named = (str(body.get("tag", "")) for _, body in self._tagged())
            facts["tag"] = next((tag for tag in named if tag_key(tag) == self.key), self.key)
        return facts

    def _arrival(self) -> dict[str, str]:
        """What was told when it came in, the last telling of each fact, with the first time."""
        facts: dict[str, str] = {}
        for record, body in self._bodies(kinds.UNIT_IN):
            facts.setdefault("came_at", record.at)
            told = {name: str(body.get(name, "")) for name in kinds.UNIT_IN.body}
            facts |= {name: value for name, value in told.items() if value}
        return facts

    def _place(self, jobs: Iterable[OpenJob]) -> str:
        """Where it was last said to stand, empty if that was never said."""
        moves = [*self._bodies(kinds.UNIT_IN), *self._bodies(kinds.UNIT_MOVED)]
        told = [(record.seq, str(body.get("place", ""))) for record, body in moves]
        told += self._places_of(jobs)
        return max(((seq, place) for seq, place in told if place), default=(0, ""))[1]

    def _places_of(self, jobs: Iterable[OpenJob]) -> Iterator[tuple[int, str]]:
        """Where jobs that stand say that it was put when they were closed, each with the number of that record."""
        for job in jobs:
            if job.closed and job.closed.place and not job.retracted:
                closes = [record.seq for record in self.of_jobs[job.job] if record.kind == kinds.CLOSE.name]
                yield max(closes), job.closed.place

    def _tagged(self) -> list[tuple[Record, dict[str, object]]]:
        return [(record, body_of(record)) for record in self.of_floor.values()]

    def _lines(self) -> dict[str, LineShown]:
        return {
            str(body["line"]): LineShown(
                line=str(body["line"]),
                shown=_shown(body.get("shown")),
                seq=record.seq,
                record=record.id,
                at=record.at,
                why=str(body.get("why", "")),
                value=str(body.get("value", "")),
                by=str(body.get("by", "")),
                job=record.job,
            )
            for record, body in self._bodies(kinds.FUNCTION)
        }

    def _once_bad(self) -> frozenset[str]:
        bodies = self._bodies(kinds.FUNCTION)
        return frozenset(str(body["line"]) for _, body in bodies if _shown(body.get("shown")) == "bad")

    def _wanted(self, jobs: Sequence[OpenJob]) -> tuple[Wanted, ...]:
        """The open needs: a close, or a part that came for this machine, ends those for its part."""
        met = [*self._came(), *self._closed_with(jobs)]
        gone = {job.job for job in jobs if job.retracted}
        wanted = []
        for record, body in self._bodies(kinds.PART_WANTED):
            part = str(body.get("part", ""))
            is_met = any(seq > record.seq and part == one for seq, one in met)
            if record.job not in gone and not is_met:
                wanted.append(Wanted(part=part, record=record.id, at=record.at, seq=record.seq, job=record.job))
        return tuple(wanted)

    def _came(self) -> list[tuple[int, str]]:
        """The parts that came for this machine from donors or by purchase, with the numbers of their records."""
        taken = [
            (moved.seq, moved.part)
            for moved in self._moved()
            if tag_key(moved.tag) == self.key and moved.good != "no"  # for a dead one it waits on
        ]
        return taken + [(piece.seq, piece.part) for piece in self._pieces()]

    def _closed_with(self, jobs: Iterable[OpenJob]) -> Iterator[tuple[int, str]]:
        """The parts that its jobs were closed with, with the numbers of their records."""
        for job in jobs:
            closes = [record for record in self.of_jobs[job.job] if record.kind == kinds.CLOSE.name]
            if job.closed and not job.retracted and closes:
                yield closes[0].seq, job.closed.part

    def _moved(self) -> list[Moved]:
        return [
            Moved(
                part=str(body.get("part", "")),
                donor=str(body.get("donor", "")),
                tag=str(body.get("tag", "")),
                good=_goodness(body.get("good")),
                record=record.id,
                at=record.at,
                seq=record.seq,
                job=record.job,
            )
            for record, body in self._bodies(kinds.PART_OUT)
        ]

    def _pieces(self) -> tuple[PieceCame, ...]:
        return tuple(
            PieceCame(
                part=str(body.get("part", "")),
                purchase=str(body.get("purchase", "")),
                record=record.id,
                at=record.at,
                seq=record.seq,
            )
            for record, body in self._bodies(kinds.PART_IN)
        )

    def _notes(self) -> tuple[Remarked, ...]:
        return tuple(
            Remarked(str(body.get("text", "")), str(body.get("by", "")), record.at, record.id)
            for record, body in self._bodies(kinds.UNIT_NOTE)
        )

    def _signature(self) -> Signature | None:
        signed = self._bodies(kinds.SIGNED)
        if not signed:
            return None
        record, body = signed[-1]
        told = {name: str(body.get(name, "")) for name in ("by", "look", "wear", "wipe", "open", "list")}
        return Signature(at=record.at, seq=record.seq, record=record.id, **told)

    def _donor(self) -> str | None:
        """Why it was given up for parts, None if it was not or is no more."""
        told = [*self._bodies(kinds.DONOR), *self._bodies(kinds.UNDONOR)]
        if not told:
            return None
        record, body = max(told, key=lambda one: one[0].seq)
        return str(body.get("why", "")) if record.kind == kinds.DONOR.name else None

    def _gone(self) -> tuple[str, int]:
        gone = self._bodies(kinds.GONE)
        if not gone:
            return "", 0
        body = gone[-1][1]
        return str(body.get("how", "")), int(str(body.get("cents", 0) or 0))


_FLOOR_NAMES = frozenset(kind.name for kind in kinds.OF_THE_FLOOR)


def _told_by(jobs: Iterable[OpenJob]) -> dict[str, str]:
    """Tag and model as its jobs tell them, the last one that does."""
    facts: dict[str, str] = {}
    for job in jobs:
        told = job.closed or job
        facts |= {name: value for name, value in {"tag": told.unit, "model": told.model}.items() if value.strip()}
    return facts


def _work_on(jobs: Iterable[OpenJob], of_jobs: Mapping[str, list[Record]]) -> Iterable[RepairDone]:
    """The fixes tried and the causes confirmed on these jobs; a retracted confirmation was work all the same."""
    for job in jobs:
        failed = {one.record: one.fix for one in job.failed_fixes}
        for record in of_jobs[job.job]:
            if record.id in failed:
                yield RepairDone(record.seq, record.at, job.job, "", failed[record.id], "")
            elif record.kind == kinds.CLOSE.name and job.closed:
                yield RepairDone(record.seq, record.at, job.job, job.closed.by, job.closed.cause, job.closed.part)


def _given_by_jobs(jobs: Iterable[OpenJob], of_jobs: Mapping[str, list[Record]]) -> Iterable[Moved]:
    """The parts that confirmations took from donors: each is a part that left one by itself."""
    for job in jobs:
        closed = job.closed
        if closed is None or job.retracted or not (closed.donor and closed.part):
            continue
        for record in of_jobs[job.job]:
            if record.kind == kinds.CLOSE.name:
                yield Moved(
                    part=closed.part,
                    donor=closed.donor,
                    tag=closed.unit,
                    good="yes",
                    record=record.id,
                    at=record.at,
                    seq=record.seq,
                    job=job.job,
                )


def _each_once(moved: Iterable[Moved]) -> Iterator[Moved]:
    """The parts that left donors: one taken for a machine, and then named on its job, left once."""
    taken: Counter[tuple[str, str, str]] = Counter()
    for one in sorted(moved, key=lambda one: one.seq):
        way = tag_key(one.donor), tag_key(one.tag), one.part
        if one.job and taken[way]:
            taken[way] -= 1
            continue
        taken[way] += not one.job
        yield one


def _shown(given: object) -> Shown:
    """What a line showed; a word that this program never wrote counts as bad."""
    match given:
        case "good" | "bad" | "waived" | "not-there":
            return given
        case _:
            return "bad"


def _goodness(given: object) -> Literal["yes", "no", "unknown"]:
    match given:
        case "yes" | "no":
            return given
        case _:
            return "unknown"
