"""Jobs out of records: what is on the bench, what was shown, tried and confirmed."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, field

from kb.history.fields import from_json
from kb.history.record import Record
from kb.history.trouble import UnreadableRecord
from kb.model import Finding, Job


@dataclass(frozen=True, slots=True)
class NotedFinding:
    """What a test showed, with the id of its record, by which it can be taken back."""

    record: str
    finding: Finding


@dataclass(frozen=True, slots=True)
class FailedFix:
    """A fix that did not help, with the id of its record, by which it can be taken back."""

    record: str
    fix: str


@dataclass(frozen=True, slots=True)
class JobPicture:
    """A picture put on a job: the id of its record, by which it can be taken back, its file, what is to be seen.

    `of` is the file that it is a marked copy of, empty if it bears no mark.
    """

    record: str
    file: str
    caption: str = ""
    of: str = ""


@dataclass(frozen=True, slots=True)
class ClockTurn:
    """Somebody took a job up, or left it and why, at a time (UTC)."""

    at: str
    on: bool
    by: str
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenJob:
    """A job as the history has it: open while `closed` is None and `retracted` (the reason) is empty.

    `skipped` are the tests that could not be done.
    """

    job: str
    model: str = ""
    unit: str = ""
    words: str = ""
    opened_at: str = ""
    findings: tuple[NotedFinding, ...] = ()
    failed_fixes: tuple[FailedFix, ...] = ()
    skipped: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    pictures: tuple[JobPicture, ...] = ()
    turns: tuple[ClockTurn, ...] = ()
    closed: Job | None = None
    retracted: str = ""

    @property
    def is_open(self) -> bool:
        """Whether it is on the bench."""
        return self.closed is None and not self.retracted

    @property
    def confirmed(self) -> Job | None:
        """What was confirmed on it and stands; None of an open or a retracted one."""
        return None if self.retracted else self.closed

    @property
    def run_by(self) -> frozenset[str]:
        """Who is working on it now, as far as anybody said so."""
        running: set[str] = set()
        for turn in self.turns:
            (running.add if turn.on else running.discard)(turn.by)
        return frozenset(running) if self.is_open else frozenset()

    @property
    def outcomes(self) -> tuple[Finding, ...]:
        """What the tests showed, without what was taken back."""
        return tuple(noted.finding for noted in self.findings)

    @property
    def is_begun(self) -> bool:
        """Whether anything was shown, tried or left out yet."""
        return bool(self.findings or self.failed_fixes or self.skipped)

    @property
    def note_ids(self) -> frozenset[str]:
        """The ids of the records that can be taken back."""
        return frozenset(
            [noted.record for noted in self.findings]
            + [failed.record for failed in self.failed_fixes]
        )


@dataclass(slots=True)
class _JobTold:
    """What the records of a job tell, taken in one after another."""

    opened: dict[str, str] = field(default_factory=dict)
    findings: dict[str, Finding] = field(default_factory=dict)
    failed: dict[str, str] = field(default_factory=dict)
    skipped: dict[str, bool] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    pictures: dict[str, JobPicture] = field(default_factory=dict)
    turns: list[ClockTurn] = field(default_factory=list)
    closed: Job | None = None
    retracted: str = ""

    def take(self, record: Record) -> None:
        """Take one record in; one of a kind that this program does not know is passed over."""
        match record.kind:
            case "open":
                self.opened = {
                    **_texts(record, "model", "unit", "words"),
                    "opened_at": record.at,
                } | self.opened
            case "finding":
                self.findings[record.id] = Finding(**_texts(record, "test", "outcome"))
            case "fixtried":
                self.failed[record.id] = _texts(record, "fix")["fix"]
            case "skip":
                body = body_of(record)
                self.skipped[str(body.get("test", ""))] = bool(body.get("skip"))
            case "takeback" | "picture-back":
                self._forget(_texts(record, "record")["record"])
            case "note" | "picture":
                self._take_remark(record)
            case "clock":
                told = _texts(record, "shown", "by", "why")
                self.turns.append(
                    ClockTurn(record.at, told["shown"] == "on", told["by"], told["why"])
                )
            case "close":
                self.closed = self.closed or job_of(record)
            case "retract":
                self.retracted = self.retracted or _texts(record, "why")["why"]

    def _forget(self, record: str) -> None:
        self.findings.pop(record, None)
        self.failed.pop(record, None)
        self.pictures.pop(record, None)

    def _take_remark(self, record: Record) -> None:
        if record.kind == "note":
            self.notes.append(_texts(record, "text")["text"])
        else:
            self.pictures[record.id] = JobPicture(
                record.id, **_texts(record, "file", "caption", "of")
            )


def state_of(job: str, records: Iterable[Record]) -> OpenJob:
    """The job that its records tell of, in their order; kinds this program does not know are passed over."""
    told = _JobTold()
    for record in records:
        told.take(record)
    opened, closed = told.opened, told.closed
    if closed and not opened:
        opened = {"model": closed.model, "unit": closed.unit, "words": closed.words}
    return OpenJob(
        job=job,
        model=opened.get("model", ""),
        unit=opened.get("unit", ""),
        words=opened.get("words", ""),
        opened_at=opened.get("opened_at", ""),
        closed=closed,
        retracted=told.retracted,
        notes=tuple(told.notes),
        pictures=tuple(told.pictures.values()),
        turns=tuple(told.turns),
        findings=tuple(NotedFinding(*pair) for pair in told.findings.items()),
        skipped=tuple(test for test, aside in told.skipped.items() if aside),
        failed_fixes=tuple(FailedFix(*pair) for pair in told.failed.items()),
    )


def job_of(record: Record) -> Job:
    """The closed job in a close record; raises UnreadableRecord."""
    try:
        return from_json(body_of(record), record.job, record.shop)
    except (KeyError, TypeError, ValueError) as error:
        raise UnreadableRecord(record.seq) from error


def _texts(record: Record, *names: str) -> dict[str, str]:
    body = body_of(record)
    return {name: str(body.get(name, "")) for name in names}


def body_of(record: Record) -> dict[str, object]:
    """The body of a record; raises UnreadableRecord."""
    try:
        body = json.loads(record.body)
    except (TypeError, ValueError) as error:
        raise UnreadableRecord(record.seq) from error
    if not isinstance(body, dict):
        raise UnreadableRecord(record.seq)
    return body
