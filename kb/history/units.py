"""Machines out of records: units by their tags, with what was seen, done, wanted, taken and signed.

A unit exists as soon as any record names its tag; nothing here is ever stored as a status.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from kb.history import kinds
from kb.history.intake import tag_key
from kb.history.jobs import OpenJob, body_of, state_of
from kb.history.record import Record
from kb.model import Job

#: What stands for a model that nobody has read off the machine yet, folded.
UNKNOWN_MODELS = frozenset({"", "unknown", "?", "-"})

#: Why that a machine left counts no more, where it was in other hands and came back.
WAS_AWAY = "it was away and is back"

#: From how many days on what was said to have left was away, and not let go by mistake (common practice, no source).
DAYS_AWAY = 1.0

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
    """A note put on a machine at any time; `of` is what the marks on the picture in it are drawn on, mostly empty."""

    text: str
    by: str
    at: str
    record: str
    of: str = ""


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

    `donor` says why it was given up for parts (empty if it was not), `gone` how it left and `gone_at` when (UTC).
    `work` is all that was repaired or tried on it, in order; `lines` what each line of the check-out showed last, and
    `once_bad` those that were ever bad, even if they are good by now. `came_back` are the numbers of the records with
    which it came back after it was really away.
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
    gone_at: str = ""
    came_back: tuple[int, ...] = ()
    last_at: str = ""

    @property
    def is_there(self) -> bool:
        """Whether any record that counts still names it."""
        return bool(self.last_at)

    @property
    def to_fit(self) -> tuple[str, ...]:
        """The parts that came for it, from a donor or by purchase, after which none of its jobs was closed yet."""
        came = _came_for(self.key, self.moved, self.pieces)
        worked = max((one.seq for one in self.work), default=0)
        waits = {one.part for one in self.wanted}
        unused = [
            part for seq, part in sorted(came) if seq > worked and part not in waits
        ]
        return tuple(dict.fromkeys(unused))

    @property
    def given(self) -> tuple[Moved, ...]:
        """The parts that left it as a donor."""
        return tuple(one for one in self.moved if tag_key(one.donor) == self.key)

    @property
    def taken(self) -> tuple[Moved, ...]:
        """The parts that left donors for it, dead ones too."""
        return tuple(one for one in self.moved if tag_key(one.tag) == self.key)

    @property
    def open_jobs(self) -> tuple[OpenJob, ...]:
        """Its jobs that are on the bench."""
        return tuple(job for job in self.jobs if job.is_open)

    def is_mended(self, line: LineShown) -> bool:
        """Whether the job that a failed line opened was closed with its cause."""
        mended = [job.job for job in self.jobs if job.confirmed]
        return line.job in mended

    @property
    def repairers(self) -> frozenset[str]:
        """The initials of everybody who repaired something on it, folded."""
        names = {one.by.strip().casefold() for one in self.work}
        return frozenset(names - {""})

    @property
    def is_signed(self) -> bool:
        """Whether a signature stands: nothing was repaired or failed since, it was not away, and no repairer signed."""
        signed = self.signature
        if signed is None or signed.by.strip().casefold() in self.repairers:
            return False
        worked = [one.seq for one in self.work]
        failed = [one.seq for one in self.lines.values() if one.shown == "bad"]
        is_last = signed.seq >= max([*worked, *failed, *self.came_back], default=0)
        return is_last and not self.open_jobs


def tags_named(record: Record) -> tuple[str, ...]:
    """The keys of the tags that a record's own body names: one for most kinds, two where a part moves."""
    body = body_of(record)
    keys = [
        tag_key(str(body.get(name, ""))) for name in _TAG_FIELDS.get(record.kind, ())
    ]
    return tuple(dict.fromkeys(filter(None, keys)))


def is_of_another(record: Record, own_shops: Collection[str]) -> bool:
    """Whether a record is a job of another shop, in which tags name the machines there and none of ours."""
    return record.kind == kinds.CLOSE.name and record.shop not in own_shops


def unit_of(key: str, records: Iterable[Record]) -> Unit:
    """The machine of that tag key, out of all records that name it and all records of its jobs, in their order."""
    fold = _Fold(key)
    for record in records:
        fold.take(record)
    return fold.unit()


#: Where the bodies of records name machines.
_TAG_FIELDS: Mapping[str, tuple[str, ...]] = {
    kinds.OPEN.name: ("unit",),
    kinds.CLOSE.name: ("unit", "donor"),
    kinds.PART_OUT.name: ("donor", "tag"),
    kinds.PART_BOUGHT.name: ("for",),
} | {
    kind.name: ("tag",)
    for kind in kinds.OF_THE_FLOOR
    if "tag" in kind.body and kind is not kinds.PART_OUT
}


def is_unknown(model: str) -> bool:
    """Whether a model is one that nobody has read off the machine yet.

    >>> is_unknown(" Unknown "), is_unknown("Tern 13")
    (True, False)
    """
    return model.strip().casefold() in UNKNOWN_MODELS


@dataclass(frozen=True, slots=True)
class _OnFloor:
    """A record of the floor with its body read."""

    record: Record
    body: Mapping[str, object]

    @property
    def seq(self) -> int:
        return self.record.seq

    def text(self, name: str) -> str:
        """What the body says under that name, empty if it says nothing."""
        return str(self.body.get(name, ""))

    def texts(self, names: Iterable[str]) -> dict[str, str]:
        """What the body says under each of those names."""
        return {name: self.text(name) for name in names}


class _Fold:
    """Takes the records of one machine in turn; a class because each kind changes another part of what is known."""

    def __init__(self, key: str) -> None:
        self.key = key
        self.of_jobs: dict[str, list[Record]] = {}
        self.of_floor: dict[str, Record] = {}
        self.came_back: list[int] = []

    def take(self, record: Record) -> None:
        """Keep a record where it belongs; one that is struck goes."""
        if record.kind == kinds.STRUCK.name:
            struck = self.of_floor.pop(str(body_of(record).get("record", "")), None)
            if struck is not None and _was_away(struck, record):
                self.came_back.append(record.seq)
        elif record.kind in _FLOOR_NAMES:
            self.of_floor[record.id] = record
        else:
            self.of_jobs.setdefault(record.job, []).append(record)

    def unit(self) -> Unit:
        """What all of it tells."""
        jobs = [state_of(job, records) for job, records in self.of_jobs.items() if job]
        own = [job for job in jobs if tag_key((job.closed or job).unit) == self.key]
        work = sorted(_work_on(own, self.of_jobs), key=lambda one: one.seq)
        moved = tuple(_each_once([*self._moved(), *self._given_by(jobs)]))
        donor = self._donor()
        how, cents, left_at = self._gone()
        return Unit(
            key=self.key,
            jobs=tuple(own),
            lines=self._lines(),
            once_bad=self._once_bad(),
            wanted=self._wanted(own),
            moved=moved,
            pieces=self._pieces(),
            work=tuple(work),
            notes=self._notes(),
            signature=self._signature(),
            is_donor=donor is not None,
            donor=donor or "",
            gone=how,
            gone_cents=cents,
            gone_at=left_at,
            came_back=tuple(self.came_back),
            last_at=self._last_at(
                {job.job for job in own} | {one.job for one in moved}
            ),
            **self._facts(own),
        )

    def _last_at(self, jobs: Iterable[str]) -> str:
        """The time of the last record of the floor or of one of these jobs, empty if there is none."""
        records = list(self.of_floor.values())
        for job in jobs:
            records += self.of_jobs.get(job, [])
        return max((record.at for record in records), default="")

    def _told(self, *asked: kinds.Kind) -> list[_OnFloor]:
        """The records of these kinds, in the order they are asked for and then in that of the history."""
        return [
            _OnFloor(record, body_of(record))
            for kind in asked
            for record in self.of_floor.values()
            if record.kind == kind.name
        ]

    def _facts(self, jobs: Sequence[OpenJob]) -> dict[str, str]:
        """Tag, model, lot and so on: as last told on arrival, else as its jobs tell."""
        facts = _told_by(jobs) | self._arrival()
        facts["place"] = self._place(jobs)
        for one in self._told(kinds.HANDED):
            facts["with_"] = one.text("to")
        if "tag" not in facts:
            facts["tag"] = self._tag_as_written()
        return facts

    def _arrival(self) -> dict[str, str]:
        """What was told when it came in, the last telling of each fact, with the first time."""
        facts: dict[str, str] = {}
        for one in self._told(kinds.UNIT_IN):
            facts.setdefault("came_at", one.record.at)
            facts |= {
                name: value
                for name, value in one.texts(kinds.UNIT_IN.body).items()
                if value
            }
        return facts

    def _tag_as_written(self) -> str:
        """Its tag as the first record of the floor that names it writes it, its key if none does."""
        for record in self.of_floor.values():
            tag = str(body_of(record).get("tag", ""))
            if tag_key(tag) == self.key:
                return tag
        return self.key

    def _place(self, jobs: Iterable[OpenJob]) -> str:
        """Where it was last said to stand, empty if that was never said."""
        told = [
            (one.seq, one.text("place"))
            for one in self._told(kinds.UNIT_IN, kinds.UNIT_MOVED)
        ]
        for closed, records in self._confirmed(jobs):
            told.append((records[-1].seq, closed.place))
        last = ""
        for _, place in sorted(told):
            last = place or last
        return last

    def _confirmed(self, jobs: Iterable[OpenJob]) -> Iterator[tuple[Job, list[Record]]]:
        """What was confirmed on those of the jobs that stand, each with the records that say so, in their order."""
        for job in jobs:
            if job.confirmed:
                told = self.of_jobs[job.job]
                records = [one for one in told if one.kind == kinds.CLOSE.name]
                yield job.confirmed, records

    def _lines(self) -> dict[str, LineShown]:
        return {
            str(one.body["line"]): LineShown(
                line=str(one.body["line"]),
                shown=_shown(one.body.get("shown")),
                seq=one.seq,
                record=one.record.id,
                at=one.record.at,
                job=one.record.job,
                **one.texts(("why", "value", "by")),
            )
            for one in self._told(kinds.FUNCTION)
        }

    def _once_bad(self) -> frozenset[str]:
        told = self._told(kinds.FUNCTION)
        return frozenset(
            str(one.body["line"])
            for one in told
            if _shown(one.body.get("shown")) == "bad"
        )

    def _wanted(self, jobs: Sequence[OpenJob]) -> tuple[Wanted, ...]:
        """The open needs: a close, or a part that came for this machine, ends those for its part."""
        met = _came_for(self.key, self._moved(), self._pieces())
        met += [
            (records[0].seq, closed.part) for closed, records in self._confirmed(jobs)
        ]
        last_met = {part: seq for seq, part in sorted(met)}
        gone = {job.job for job in jobs if job.retracted}
        wanted = []
        for one in self._told(kinds.PART_WANTED):
            part, job = one.text("part"), one.record.job
            if job not in gone and last_met.get(part, 0) <= one.seq:
                wanted.append(
                    Wanted(
                        part=part,
                        record=one.record.id,
                        at=one.record.at,
                        seq=one.seq,
                        job=job,
                    )
                )
        return tuple(wanted)

    def _moved(self) -> list[Moved]:
        """The parts that records of their own say to have left a donor."""
        return [
            Moved(
                good=_goodness(one.body.get("good")),
                record=one.record.id,
                at=one.record.at,
                seq=one.seq,
                job=one.record.job,
                **one.texts(("part", "donor", "tag")),
            )
            for one in self._told(kinds.PART_OUT)
        ]

    def _given_by(self, jobs: Iterable[OpenJob]) -> Iterator[Moved]:
        """The parts that confirmations took from donors: each is a part that left one by itself."""
        for closed, records in self._confirmed(jobs):
            if not (closed.donor and closed.part):
                continue
            for record in records:
                yield Moved(
                    part=closed.part,
                    donor=closed.donor,
                    tag=closed.unit,
                    good="yes",
                    record=record.id,
                    at=record.at,
                    seq=record.seq,
                    job=closed.job,
                )

    def _pieces(self) -> tuple[PieceCame, ...]:
        return tuple(
            PieceCame(
                record=one.record.id,
                at=one.record.at,
                seq=one.seq,
                **one.texts(("part", "purchase")),
            )
            for one in self._told(kinds.PART_IN)
        )

    def _notes(self) -> tuple[Remarked, ...]:
        return tuple(
            Remarked(
                one.text("text"),
                one.text("by"),
                one.record.at,
                one.record.id,
                one.text("of"),
            )
            for one in self._told(kinds.UNIT_NOTE)
        )

    def _signature(self) -> Signature | None:
        """The last one, None if it was never signed."""
        signed = self._told(kinds.SIGNED)
        if not signed:
            return None
        last = signed[-1]
        told = last.texts(("by", "look", "wear", "wipe", "open", "list"))
        return Signature(at=last.record.at, seq=last.seq, record=last.record.id, **told)

    def _donor(self) -> str | None:
        """Why it was given up for parts, None if it was not or is no more."""
        told = self._told(kinds.DONOR, kinds.UNDONOR)
        if not told:
            return None
        last = max(told, key=lambda one: one.seq)
        return last.text("why") if last.record.kind == kinds.DONOR.name else None

    def _gone(self) -> tuple[str, int, str]:
        """How it left, what it brought (cents) and when (UTC); empty and 0 while it is here."""
        gone = self._told(kinds.GONE)
        if not gone:
            return "", 0, ""
        cents = gone[-1].body.get("cents") or 0
        return gone[-1].text("how"), int(str(cents)), gone[-1].record.at


_FLOOR_NAMES = frozenset(kind.name for kind in kinds.OF_THE_FLOOR)


def _was_away(left: Record, back: Record) -> bool:
    """Whether a machine was really away between these records: it is said, or the time between them says so."""
    if left.kind != kinds.GONE.name:
        return False
    said = body_of(back).get("why") == WAS_AWAY
    gone = datetime.fromisoformat(back.at) - datetime.fromisoformat(left.at)
    return said or gone.total_seconds() >= DAYS_AWAY * 86_400


def _came_for(
    key: str, moved: Iterable[Moved], pieces: Iterable[PieceCame]
) -> list[tuple[int, str]]:
    """The parts that came for the machine of that tag, with the numbers of their records; no dead ones."""
    taken = [
        (one.seq, one.part)
        for one in moved
        if tag_key(one.tag) == key and one.good != "no"
    ]
    return taken + [(one.seq, one.part) for one in pieces]


def _told_by(jobs: Iterable[OpenJob]) -> dict[str, str]:
    """Tag and model as its jobs tell them, the last one that does."""
    facts: dict[str, str] = {}
    for job in jobs:
        state = job.closed or job
        told = {"tag": state.unit, "model": state.model}
        facts |= {name: value for name, value in told.items() if value.strip()}
    return facts


def _work_on(
    jobs: Iterable[OpenJob], of_jobs: Mapping[str, list[Record]]
) -> Iterator[RepairDone]:
    """The fixes tried and the causes confirmed on these jobs; a retracted confirmation was work all the same."""
    for job in jobs:
        failed = {one.record: one.fix for one in job.failed_fixes}
        for record in of_jobs[job.job]:
            if record.id in failed:
                yield RepairDone(
                    record.seq, record.at, job.job, "", failed[record.id], ""
                )
            elif record.kind == kinds.CLOSE.name and job.closed:
                yield RepairDone(
                    record.seq,
                    record.at,
                    job.job,
                    job.closed.by,
                    job.closed.cause,
                    job.closed.part,
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
