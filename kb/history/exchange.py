"""Closed jobs as JSON Lines, one job a line, so that shops exchange what they learned."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields, replace

from kb.history import History, intake
from kb.history.ids import derived_id
from kb.history.jobs import close_body, plain_number
from kb.history.record import canonical
from kb.history.trouble import NotAccepted
from kb.model import Finding, Job, Remark

#: The longest line taken, in characters.
LINE_LIMIT = 1_000_000

_TEXTS = ("job", "shop", "model", "unit", "words", "cause", "part", "donor", "closed_at", "note", "by")
_UNNAMED = "unnamed"
_EXAMPLE = (
    'write one job a line, as in {"model": "Tern 13", "cause": "no-light/dc-jack", "closed_at": "2026-11-24T10:15:00Z"}'
)

# Taken for a value of the wrong type, so that it is not reported as missing as well.
_STAND_INS = {"model": "?", "cause": "a/a", "closed_at": "2000-01-01T00:00:00Z"}


@dataclass(frozen=True, slots=True)
class ImportReport:
    """What an import did: jobs added, jobs known before, lines refused.

    `retracted` counts the jobs that the lines declare wrong; `repeats` are the numbers of lines without
    an id that say the same as an earlier line and were therefore taken for the same job.
    """

    added: int
    known: int
    remarks: tuple[Remark, ...]
    retracted: int = 0
    repeats: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class _Line:
    number: int
    job: Job
    retracted: str
    named: bool


def to_line(job: Job, retracted: str = "") -> str:
    """The job as one line of JSON without its line end; `retracted` is the reason if it was."""
    content: dict[str, object] = {
        "job": job.job,
        "shop": job.shop,
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
        **({"retracted": retracted} if retracted else {}),
    }
    line = json.dumps(content, ensure_ascii=False, allow_nan=False)
    for sign in "\x85\u2028\u2029":  # some readers take these for line ends
        line = line.replace(sign, f"\\u{ord(sign):04x}")
    return line


def from_line(text: str, number: int, file: str = "import") -> Job | Remark:
    """The job of one line, or a remark with everything that is wrong with it.

    Only model, cause and closed_at are required; without `job` the id is derived from the content.
    """
    line = _read(text, number, file)
    return line if isinstance(line, Remark) else line.job


def import_jobs(history: History, lines: Iterable[str], file: str = "import") -> ImportReport:
    """Take in the jobs of these lines, all in one transaction; what is known already changes nothing.

    Lines that are wrong, or that say something else of a known job, come back as remarks, and the
    others are kept. Raises HistoryBusy or DiskTrouble, and then nothing was taken in.
    """
    read = [
        _read(text.removeprefix("\ufeff"), number, file)
        for number, text in enumerate(lines, 1)
        if text.strip("\ufeff \t\r\n")
    ]
    good = [line for line in read if not isinstance(line, Remark)]
    remarks = [line for line in read if isinstance(line, Remark)]
    added = known = retracted = 0
    with history.together():
        for line in good:
            state = history.find_job(line.job.job)
            if state is None or state.closed is None:
                history.adopt(line.job)
                added += 1
            elif _same(state.closed, line.job):
                known += 1
            else:
                remarks.append(_contradiction(state.closed, line, file))
                continue
            if line.retracted and not (state and state.retracted):
                history.retract(line.job.job, line.retracted)
                retracted += 1
    remarks.sort(key=lambda remark: remark.line)
    return ImportReport(added, known, tuple(remarks), retracted, _repeats(good))


def export_jobs(history: History, with_retracted: bool = False) -> Iterator[str]:
    """A line for each closed job, in the order of the history; retracted ones only if asked for."""
    reasons = history.retracted_jobs() if with_retracted else {}
    for job in history.closed_jobs(include_retracted=with_retracted):
        yield to_line(job, reasons.get(job.job, ""))


def _read(text: str, number: int, file: str) -> _Line | Remark:
    """One line; every problem in it goes into a single remark."""
    wrong: list[NotAccepted] = []
    try:
        content = _object(text)
        named, job = bool(_text(content, "job", []).strip()), _job(content, wrong)
        reason = _text(content, "retracted", wrong)
        accepted = intake.accepted(job)
        reason = intake.note(reason, "retracted").strip()
    except NotAccepted as refusal:
        wrong.append(refusal)
    if wrong:
        return Remark(file, number, "; ".join(one.problem for one in wrong), "; ".join(one.instead for one in wrong))
    if named:
        return _Line(number, accepted, reason, named=True)
    return _Line(number, replace(accepted, job=_content_id(accepted)), reason, named=False)


def _object(text: str) -> dict[str, object]:
    if len(text) > LINE_LIMIT:
        raise NotAccepted(f"the line has {len(text)} characters", f"keep a job under {LINE_LIMIT}")
    try:
        content = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise NotAccepted("this is not a line of JSON", _EXAMPLE) from None
    if not isinstance(content, dict):
        raise NotAccepted("this is not a JSON object", _EXAMPLE)
    return content


def _job(content: dict[str, object], wrong: list[NotAccepted]) -> Job:
    text = {key: _text(content, key, wrong) for key in _TEXTS}
    return Job(
        job=text["job"].strip() or _UNNAMED,
        shop=text["shop"],
        model=text["model"],
        unit=text["unit"],
        words=text["words"],
        cause=text["cause"],
        part=text["part"],
        donor=text["donor"],
        closed_at=text["closed_at"],
        note=text["note"],
        by=text["by"],
        minutes=_minutes(content, wrong),
        outcomes=_outcomes(content, wrong),
    )


def _text(content: dict[str, object], key: str, wrong: list[NotAccepted]) -> str:
    given = content.get(key)
    if given is None:
        return ""
    if isinstance(given, str):
        return given
    wrong.append(NotAccepted(f"{key} is not a text", f'write it in quotes, as in "{key}": "..."'))
    return _STAND_INS.get(key, "")


def _minutes(content: dict[str, object], wrong: list[NotAccepted]) -> float | None:
    given = content.get("minutes")
    if given is None or (isinstance(given, (int, float)) and not isinstance(given, bool)):
        return given
    wrong.append(NotAccepted("minutes is not a number", 'write it without quotes, as in "minutes": 12'))
    return None


def _outcomes(content: dict[str, object], wrong: list[NotAccepted]) -> tuple[Finding, ...]:
    given = content.get("outcomes")
    if given is None:
        return ()
    try:
        return tuple(_finding(one) for one in given) if isinstance(given, list) else (_finding(None),)
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


def _content_id(job: Job) -> str:
    return derived_id(canonical({**close_body(job), "shop": job.shop}))


def _repeats(lines: Iterable[_Line]) -> tuple[int, ...]:
    seen: set[str] = set()
    repeats = []
    for line in lines:
        if not line.named and line.job.job in seen:
            repeats.append(line.number)
        seen.add(line.job.job)
    return tuple(repeats)


def _same(one: Job, other: Job) -> bool:
    """Whether two jobs say the same; the shop is left out, as a line need not name it."""
    return replace(one, shop="") == replace(other, shop="")


def _contradiction(known: Job, line: _Line, file: str) -> Remark:
    others = [
        field.name
        for field in fields(Job)
        if field.name != "shop" and getattr(known, field.name) != getattr(line.job, field.name)
    ]
    return Remark(
        file,
        line.number,
        f"job {known.job} is in the history with other {', '.join(others)}",
        f"give this job an id of its own; if the known one is wrong, retract {known.job}",
    )


def _no_constant(text: str) -> float:
    raise ValueError(f"{text} is no JSON number")
