"""Jobs out of records: what is on the bench, what was shown, tried and confirmed."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass

from kb.history.record import Record
from kb.history.trouble import UnreadableRecord
from kb.model import Finding, Job

_TEXTS = ("model", "unit", "words", "cause", "part", "donor", "closed_at", "note", "by")


@dataclass(frozen=True, slots=True)
class Confirmation:
    """The statement "on this job it was this cause".

    Without `job` a new job is made; what is left empty is taken from the open job; without `closed_at`
    (UTC, ISO 8601) it is now.
    """

    cause: str
    model: str = ""
    job: str = ""
    unit: str = ""
    words: str = ""
    minutes: float | None = None
    part: str = ""
    donor: str = ""
    outcomes: tuple[Finding, ...] = ()
    note: str = ""
    by: str = ""
    closed_at: str = ""


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
class OpenJob:
    """A job as the history has it: open while `closed` is None and `retracted` (the reason) is empty."""

    job: str
    model: str = ""
    unit: str = ""
    words: str = ""
    opened_at: str = ""
    findings: tuple[NotedFinding, ...] = ()
    failed_fixes: tuple[FailedFix, ...] = ()
    notes: tuple[str, ...] = ()
    closed: Job | None = None
    retracted: str = ""

    @property
    def outcomes(self) -> tuple[Finding, ...]:
        """What the tests showed, without what was taken back."""
        return tuple(noted.finding for noted in self.findings)

    @property
    def note_ids(self) -> frozenset[str]:
        """The ids of the records that can be taken back."""
        return frozenset([noted.record for noted in self.findings] + [failed.record for failed in self.failed_fixes])


def state_of(job: str, records: Iterable[Record]) -> OpenJob:
    """The job that its records tell of, in their order; kinds this program does not know are passed over."""
    told: dict[str, str] = {}
    findings: dict[str, Finding] = {}
    failed: dict[str, str] = {}
    notes: list[str] = []
    closed: Job | None = None
    retracted = ""
    for record in records:
        match record.kind:
            case "open":
                told = {**_texts(record, "model", "unit", "words"), "opened_at": record.at} | told
            case "finding":
                findings[record.id] = Finding(**_texts(record, "test", "outcome"))
            case "fixtried":
                failed[record.id] = _texts(record, "fix")["fix"]
            case "takeback":
                findings.pop(_texts(record, "record")["record"], None)
                failed.pop(_texts(record, "record")["record"], None)
            case "note":
                notes.append(_texts(record, "text")["text"])
            case "close":
                closed = closed or job_of(record)
            case "retract":
                retracted = retracted or _texts(record, "why")["why"]
    if closed and not told:
        told = {"model": closed.model, "unit": closed.unit, "words": closed.words}
    return OpenJob(
        job=job,
        model=told.get("model", ""),
        unit=told.get("unit", ""),
        words=told.get("words", ""),
        opened_at=told.get("opened_at", ""),
        closed=closed,
        retracted=retracted,
        notes=tuple(notes),
        findings=tuple(NotedFinding(*pair) for pair in findings.items()),
        failed_fixes=tuple(FailedFix(*pair) for pair in failed.items()),
    )


def close_body(job: Job) -> dict[str, object]:
    """The body of a close record: all there is to know of the job, readable without its other records."""
    return {
        "model": job.model,
        "unit": job.unit,
        "words": job.words,
        "cause": job.cause,
        "minutes": plain_number(job.minutes),
        "part": job.part,
        "donor": job.donor,
        "outcomes": [{"test": shown.test, "outcome": shown.outcome} for shown in job.outcomes],
        "closed_at": job.closed_at,
        "note": job.note,
        "by": job.by,
    }


def job_of(record: Record) -> Job:
    """The closed job in a close record; raises UnreadableRecord."""
    body = _body(record)
    minutes, outcomes = body.get("minutes"), body.get("outcomes", [])
    text = {name: str(body.get(name, "")) for name in _TEXTS}
    try:
        return Job(
            job=record.job,
            shop=record.shop,
            model=text["model"],
            cause=text["cause"],
            closed_at=text["closed_at"],
            unit=text["unit"],
            words=text["words"],
            part=text["part"],
            donor=text["donor"],
            note=text["note"],
            by=text["by"],
            minutes=None if minutes is None else float(str(minutes)),
            outcomes=tuple(Finding(str(one["test"]), str(one["outcome"])) for one in _listed(outcomes)),
        )
    except (KeyError, TypeError, ValueError) as error:
        raise UnreadableRecord(record.seq) from error


def plain_number(minutes: float | None) -> float | int | None:
    """A number without a needless `.0`, as a person would write it.

    >>> plain_number(12.0), plain_number(7.5), plain_number(None)
    (12, 7.5, None)
    """
    if minutes is None or minutes != int(minutes) or minutes > 1e15:
        return minutes
    return int(minutes)


def _texts(record: Record, *names: str) -> dict[str, str]:
    body = _body(record)
    return {name: str(body.get(name, "")) for name in names}


def _body(record: Record) -> dict[str, object]:
    try:
        body = json.loads(record.body)
    except (TypeError, ValueError) as error:
        raise UnreadableRecord(record.seq) from error
    if not isinstance(body, dict):
        raise UnreadableRecord(record.seq)
    return body


def _listed(outcomes: object) -> list[dict[str, object]]:
    if not isinstance(outcomes, list):
        raise TypeError("outcomes are a list")
    return outcomes
