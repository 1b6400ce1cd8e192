"""Closed jobs as JSON Lines, one job a line, so that shops exchange what they learned."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from kb.base.clock import date_doubt
from kb.base.csvtext import Cell, to_csv
from kb.history import History, fields, intake, kinds
from kb.history.ids import derived_id
from kb.history.jobs import OpenJob, job_of
from kb.history.moving import (
    Fetch,
    FloorLine,
    floor_line,
    is_of_the_floor,
    jobs_pictures,
    own_models,
    own_shop_line,
    picture_named,
    read_floor,
    refused_merge,
    take_floor,
    take_shop,
    told_to_others,
)
from kb.history.recall import Recall
from kb.history.record import canonical
from kb.history.taught_fits import known_by_jobs, strike_taught, taught_fits
from kb.history.trouble import NotAccepted
from kb.model import Finding, Job, Remark

#: The longest line taken, in characters.
LINE_LIMIT = 1_000_000
#: The same for a line that carries a picture: 1600 x 1600 points of noise are less than half of it.
PICTURE_LIMIT = 8_000_000

_UNNAMED = "unnamed"
_EXAMPLE = (
    'write one job a line, as in {"model": "Tern 13", "cause": "battery-not-detected/pack", '
    '"closed_at": "2026-11-24T10:15:00Z"}'
)

# Taken for a value of the wrong type, so that it is not reported as missing as well.
_STAND_INS = {"model": "?", "cause": "a/a", "closed_at": "2000-01-01T00:00:00Z"}


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What an import did: jobs added, jobs known before, lines refused.

    `retracted` counts the jobs that the lines declare wrong, `floor` the records of machines, lots and parts;
    `repeats` are the numbers of lines without an id that say the same as an earlier line and were therefore taken for
    the same job.
    """

    added: int
    known: int
    remarks: tuple[Remark, ...]
    retracted: int = 0
    floor: int = 0
    repeats: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class JobLine:
    """A line that was read: its number, the job, why it was retracted if it was, and whether it names its own id."""

    number: int
    job: Job
    retracted: str
    named: bool


def to_line(job: Job, retracted: str = "") -> str:
    """The job as one line of JSON without its line end; `retracted` is the reason if it was."""
    content = fields.to_json(job, fields.SHARED) | (
        {"retracted": retracted} if retracted else {}
    )
    line = json.dumps(content, ensure_ascii=False, allow_nan=False)
    for sign in "\x85\u2028\u2029":  # some readers take these for line ends
        line = line.replace(sign, f"\\u{ord(sign):04x}")
    return line


def take_in(
    history: History, read: Sequence[JobLine | FloorLine | Remark], file: str
) -> ImportReport:
    """Take in the jobs of lines that were read, all in one transaction; what is known already changes nothing.

    Lines that are wrong, that tell a day on which no job can have been closed, or that say something else of a
    known job, come back as remarks with those among the lines, and the others are kept. Raises HistoryBusy or
    DiskTrouble, and then nothing was taken in.
    """
    intake = _Intake(history, file, [line for line in read if isinstance(line, Remark)])
    good = [line for line in read if not isinstance(line, Remark)]
    with history.together():
        if any(_is_merge(line) for line in good):
            intake.own_models = own_models(history)
        for shop in _moved_shops(good):
            take_shop(history, shop)
        if any(line.kind is kinds.FIT for line in good if isinstance(line, FloorLine)):
            intake.known_fits = known_by_jobs(history)
        for line in good:
            intake.take(line)
    remarks = sorted(intake.remarks, key=lambda remark: remark.line)
    return ImportReport(
        intake.added,
        intake.known,
        tuple(remarks),
        intake.retracted,
        intake.floor,
        _repeats(good),
    )


class _Intake:
    """Takes in lines one by one, and counts what became of them."""

    def __init__(self, history: History, file: str, remarks: list[Remark]) -> None:
        self._history = history
        self._file = file
        self._now = history.now()
        self.remarks = remarks
        self.own_models: frozenset[str] = frozenset()
        self.known_fits: frozenset[str] = frozenset()
        self.origins: dict[str, str] = {}
        self.added = self.known = self.retracted = self.floor = 0

    def take(self, line: JobLine | FloorLine) -> None:
        """Save what a line tells, unless it is known or has to be refused."""
        if isinstance(line, FloorLine):
            self._take_floor(line)
            return
        state = self._history.find_job(line.job.job)
        if self._is_saved(line, state.closed if state else None) and line.retracted:
            self._retract(line, state)

    def _take_floor(self, line: FloorLine) -> None:
        if line.kind is kinds.MOVED_IN or not self.known_fits.isdisjoint(line.ids):
            return
        if line.origin:
            self.origins[line.record] = line.origin
        refusal = (
            refused_merge(self._history, line, self.own_models)
            if _is_merge(line)
            else None
        )
        if refusal:
            self.remarks.append(
                Remark(self._file, line.number, refusal.problem, refusal.instead)
            )
            return
        self.floor += take_floor(self._history, line, self.origins)

    def _is_saved(self, line: JobLine, known: Job | None) -> bool:
        """Whether the job of a line is in the history now, since it was known or could be added.

        A model is the same by whatever name the line has it.
        """
        kept = self._history.same_models().kept(line.job.model)
        if known and _same(known, replace(line.job, model=kept)):
            self.known += 1
            return True
        refusal = _refusal(line, known, self._now, self._file)
        if refusal:
            self.remarks.append(refusal)
            return False
        self._history.adopt(line.job)
        self.added += 1
        return True

    def _retract(self, line: JobLine, state: OpenJob | None) -> None:
        if not (state and state.retracted):
            self._history.retract(line.job.job, line.retracted)
            self.retracted += 1
            strike_taught(self._history, line.job.job, line.retracted)


def export_jobs(
    history: History, with_retracted: bool = False, since: str = ""
) -> Iterator[str]:
    """A line for each closed job, in the order of the history; retracted ones only if asked for.

    `since` is a time (UTC) before which no job was closed that is wanted. Models have the names they were written
    with, so that whoever knows a job knows it again, and the merges of names that stand go with them. So does, with
    `since` too, all that is known of fits.
    """
    written = history.as_written()
    for job, reason in _closed_since(written, with_retracted, since):
        yield to_line(job, reason)
    yield from told_to_others(written)
    yield from map(floor_line, taught_fits(history))


def export_table(
    history: History, with_retracted: bool = False, since: str = ""
) -> Iterator[str]:
    """The closed jobs as CSV text, a line each under a line of headings; the last column says why one was retracted."""
    names = [field.name for field in fields.SHARED]
    yield to_csv([[*names, "retracted"]])
    for job, reason in _closed_since(history, with_retracted, since):
        yield to_csv([[*(_cell(job, name) for name in names), reason]])


def _cell(job: Job, name: str) -> Cell:
    if name == "outcomes":
        return "; ".join(f"{shown.test}: {shown.outcome}" for shown in job.outcomes)
    return (
        fields.plain_number(job.minutes)
        if name == "minutes"
        else str(getattr(job, name))
    )


def _closed_since(
    history: Recall, with_retracted: bool, since: str
) -> Iterator[tuple[Job, str]]:
    reasons = history.retracted_jobs() if with_retracted else {}
    for job in history.closed_jobs(include_retracted=with_retracted):
        if job.closed_at >= since:
            yield job, reasons.get(job.job, "")


def export_everything(history: History, fetch: Fetch = lambda _: None) -> Iterator[str]:
    """A line for each closed job, each record of machines, lots and parts, and each picture of a closed job.

    In the order of the history, pictures of jobs last, those that `fetch` gives with their files. For moving a history
    to another folder of one's own: serials, sellers, prices and places are in it. The first lines say whose folder
    moves. Times are those of the jobs alone; a backup keeps all of them.
    """
    reasons, written = history.retracted_jobs(), history.as_written()
    yield from map(own_shop_line, sorted(history.own_shops()))
    for record in written.records_since():
        if record.kind == kinds.CLOSE.name:
            yield to_line(job_of(record), reasons.get(record.job, ""))
        elif is_of_the_floor(record) and record.kind != kinds.MOVED_IN.name:
            named = picture_named(record)
            yield floor_line(record, picture=fetch(named) if named else None)
    yield from jobs_pictures(written, fetch)


def read_lines(
    lines: Iterable[str], file: str
) -> Iterator[JobLine | FloorLine | Remark]:
    """Every line but the blank ones, whatever marks of byte order they begin with."""
    for number, text in enumerate(lines, 1):
        if text.strip("\ufeff \t\r\n"):
            yield read_line(text.removeprefix("\ufeff"), number, file)


def read_line(
    text: str, number: int, file: str = "import"
) -> JobLine | FloorLine | Remark:
    """One line, or a remark with everything that is wrong with it.

    Only model, cause and closed_at are required; without `job` the id is derived from the content.
    """
    wrong: list[NotAccepted] = []
    try:
        content = _object(text)
        if "kind" in content:
            return read_floor(content, number)
        named, job = bool(_text(content, "job", []).strip()), _job(content, wrong)
        reason = _text(content, "retracted", wrong)
        accepted = fields.accepted(job)
        reason = intake.note(reason, "retracted").strip()
    except NotAccepted as refusal:
        wrong.append(refusal)
    if wrong:
        return Remark(
            file,
            number,
            "; ".join(one.problem for one in wrong),
            "; ".join(one.instead for one in wrong),
        )
    if named:
        return JobLine(number, accepted, reason, named=True)
    return JobLine(
        number, replace(accepted, job=content_id(accepted)), reason, named=False
    )


def _object(text: str) -> dict[str, object]:
    limit = PICTURE_LIMIT if text.startswith('{"kind": "') else LINE_LIMIT
    if len(text) > limit:
        raise NotAccepted(
            f"the line has {len(text)} characters", f"keep a job under {limit}"
        )
    try:
        content = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise NotAccepted("this is not a line of JSON", _EXAMPLE) from None
    if not isinstance(content, dict):
        raise NotAccepted("this is not a JSON object", _EXAMPLE)
    return content


def _job(content: dict[str, object], wrong: list[NotAccepted]) -> Job:
    told: dict[str, Any] = {key: _text(content, key, wrong) for key in fields.TEXTS}
    told["job"] = told["job"].strip() or _UNNAMED
    return Job(
        minutes=_minutes(content, wrong), outcomes=_outcomes(content, wrong), **told
    )


def _text(content: dict[str, object], key: str, wrong: list[NotAccepted]) -> str:
    given = content.get(key)
    if given is None:
        return ""
    if isinstance(given, str):
        return given
    wrong.append(
        NotAccepted(f"{key} is not a text", f'write it in quotes, as in "{key}": "..."')
    )
    return _STAND_INS.get(key, "")


def _minutes(content: dict[str, object], wrong: list[NotAccepted]) -> float | None:
    given = content.get("minutes")
    if given is None or (
        isinstance(given, (int, float)) and not isinstance(given, bool)
    ):
        return given
    wrong.append(
        NotAccepted(
            "minutes is not a number", 'write it without quotes, as in "minutes": 12'
        )
    )
    return None


def _outcomes(
    content: dict[str, object], wrong: list[NotAccepted]
) -> tuple[Finding, ...]:
    given = content.get("outcomes")
    if given is None:
        return ()
    try:
        return (
            tuple(_finding(one) for one in given)
            if isinstance(given, list)
            else (_finding(None),)
        )
    except NotAccepted as refusal:
        wrong.append(refusal)
        return ()


def _finding(given: object) -> Finding:
    if isinstance(given, dict):
        test, outcome = given.get("test"), given.get("outcome")
        if isinstance(test, str) and isinstance(outcome, str):
            return Finding(test, outcome)
    raise NotAccepted(
        "outcomes is not a list of tests with their outcomes",
        'write "outcomes": [{"test": "entry/test", "outcome": "what it showed"}]',
    )


def content_id(job: Job) -> str:
    """The id of a job that names none, derived from what it says."""
    return derived_id(canonical({**fields.to_json(job), "shop": job.shop}))


def _repeats(lines: Iterable[JobLine | FloorLine]) -> tuple[int, ...]:
    seen: set[str] = set()
    repeats = []
    for line in lines:
        if isinstance(line, FloorLine):
            continue
        if not line.named and line.job.job in seen:
            repeats.append(line.number)
        seen.add(line.job.job)
    return tuple(repeats)


def _same(one: Job, other: Job) -> bool:
    """Whether two jobs say the same."""
    return not _others(one, other)


def _others(one: Job, other: Job) -> list[str]:
    """The fields in which two jobs differ, of those that a line need hold; it need not name the shop."""
    compared = [field.name for field in fields.SHARED if field is not fields.SHOP]
    return [name for name in compared if getattr(one, name) != getattr(other, name)]


def _refusal(
    line: JobLine, known: Job | None, now: datetime, file: str
) -> Remark | None:
    """Why a line is not taken in, None if it is: it contradicts a known job, or its day cannot be."""
    if known:
        return _contradiction(known, line, file)
    doubt = date_doubt(line.job.closed_at, now)
    if not doubt:
        return None
    return Remark(
        file,
        line.number,
        f"closed_at {line.job.closed_at} {doubt}",
        "write the day on which the job was closed; a rough one will do",
    )


def _contradiction(known: Job, line: JobLine, file: str) -> Remark:
    return Remark(
        file,
        line.number,
        f"job {known.job} is in the history with other {', '.join(_others(known, line.job))}",
        f"give this job an id of its own; if the known one is wrong, retract {known.job}",
    )


def _moved_shops(lines: Sequence[JobLine | FloorLine]) -> list[str]:
    """The shops whose folder a file moves: those that it names, in one of old all whose jobs come with its machines."""
    floor = [line for line in lines if isinstance(line, FloorLine)]
    named = [str(line.body["shop"]) for line in floor if line.kind is kinds.MOVED_IN]
    if named or all(line.kind in kinds.FOR_OTHERS for line in floor):
        return named
    shops = {line.job.shop for line in lines if isinstance(line, JobLine)}
    return sorted(filter(None, shops))


def _is_merge(line: JobLine | FloorLine) -> bool:
    """Whether a line says that two names mean one model."""
    return isinstance(line, FloorLine) and line.kind is kinds.SAME_MODEL


def _no_constant(text: str) -> float:
    raise ValueError(f"{text} is no JSON number")
