"""The fields of a job in one list: how each is taken in and spelt in JSON; bodies, lines and rows are made from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Literal

from kb.history import intake
from kb.history.trouble import NotAccepted
from kb.model import Finding, Job

Sort = Literal["text", "number", "findings"]


@dataclass(frozen=True, slots=True)
class JobField:
    """One field: its name, its sort, and what the history keeps of a value (`take` raises NotAccepted).

    A `later` field came after the first format: while it is empty it is left out of records and lines, so that ids
    derived from what a job says stay what they were. What concerns this shop alone (`stays`) is in no exported line.
    """

    name: str
    sort: Sort
    take: Callable[[Any], Any]
    later: bool = False
    stays: bool = False


def _name(what: str) -> Callable[[str], str]:
    return partial(intake.name, what=what)


#: The two that a record keeps in columns of its own.
JOB = JobField("job", "text", partial(intake.required, what="job id"))
SHOP = JobField("shop", "text", _name("shop"))
#: What the body of a close record holds.
BODY = (
    JobField("model", "text", partial(intake.required, what="model")),
    JobField("unit", "text", _name("unit")),
    JobField("words", "text", intake.words),
    JobField("cause", "text", intake.cause),
    JobField("minutes", "number", intake.minutes),
    JobField("part", "text", _name("part")),
    JobField("donor", "text", _name("donor")),
    JobField("outcomes", "findings", intake.findings),
    JobField("closed_at", "text", intake.moment),
    JobField("note", "text", intake.note),
    JobField("by", "text", _name("name")),
    JobField("place", "text", _name("place"), later=True, stays=True),
)
ALL = (JOB, SHOP, *BODY)
#: What a line for other shops holds.
SHARED = tuple(field for field in ALL if not field.stays)
#: The names of those that are plain texts.
TEXTS = tuple(field.name for field in ALL if field.sort == "text")


def accepted(job: Job) -> Job:
    """The job in the form the history keeps; raises one NotAccepted with all that is wrong with it."""
    kept: dict[str, Any] = {}
    wrong: list[NotAccepted] = []
    for field in ALL:
        try:
            kept[field.name] = field.take(getattr(job, field.name))
        except NotAccepted as refusal:
            wrong.append(refusal)
    if wrong:
        raise NotAccepted(
            "; ".join(one.problem for one in wrong),
            "; ".join(one.instead for one in wrong),
        )
    return Job(**kept)


def to_json(job: Job, fields: tuple[JobField, ...] = BODY) -> dict[str, object]:
    """Those fields of a job as JSON has them: all there is to know of it, readable without its other records."""
    told = {}
    for field in fields:
        value = getattr(job, field.name)
        if value or not field.later:
            told[field.name] = _SPELT[field.sort](value)
    return told


def from_json(body: Mapping[str, object], job: str, shop: str) -> Job:
    """The job that a body tells of; raises KeyError, TypeError or ValueError for one that this program never wrote."""
    told = {field.name: _READ[field.sort](body.get(field.name)) for field in BODY}
    return Job(job=job, shop=shop, **told)


def plain_number(minutes: float | None) -> float | int | None:
    """A number without a needless `.0`, as a person would write it.

    >>> plain_number(12.0), plain_number(7.5), plain_number(None)
    (12, 7.5, None)
    """
    if minutes is None or minutes != int(minutes) or minutes > 1e15:
        return minutes
    return int(minutes)


def _spelt_findings(findings: tuple[Finding, ...]) -> list[dict[str, str]]:
    return [{"test": shown.test, "outcome": shown.outcome} for shown in findings]


def _read_text(given: object) -> str:
    return "" if given is None else str(given)


def _read_number(given: object) -> float | None:
    return None if given is None else float(str(given))


def _read_findings(given: object) -> tuple[Finding, ...]:
    if given is None:
        return ()
    if not isinstance(given, list):
        raise TypeError("outcomes are a list")
    return tuple(Finding(str(one["test"]), str(one["outcome"])) for one in given)


_SPELT: Mapping[Sort, Callable[[Any], object]] = {
    "text": str,
    "number": plain_number,
    "findings": _spelt_findings,
}
_READ: Mapping[Sort, Callable[[object], Any]] = {
    "text": _read_text,
    "number": _read_number,
    "findings": _read_findings,
}
