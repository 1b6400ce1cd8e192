"""Shared lines: what a shop tells an office of its jobs, tests, fits and gaps, and nothing of whose machines they were.

No words of people are among them: no tag, serial, seller, price, place, name, note or complaint, and of outcomes only
those that a sheet lists. Names of models and parts, and causes, stand as the shop writes them.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields

from kb.diagnosis.counts import of_tests
from kb.history import History, kinds
from kb.history.ids import derived_id
from kb.history.jobs import body_of
from kb.history.record import Record
from kb.history.taught_fits import taught_fits
from kb.index.jobs import machine_key
from kb.model import Entry, Finding, Job
from kb.review.work import NOBODY, model_of, put_away

#: The version of a line; an office reads no later one.
FORMAT = 1
#: What a line tells of.
KINDS = ("job", "test", "fit", "gap")


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedLine:
    """One line: what it tells of (`KINDS`), the anonymous id of the shop, the day (YYYY-MM-DD, UTC), the model.

    Jobs and machines are numbered within their shop, a job that turned up twice on one machine has its number twice;
    `minutes` is None where nobody counted. `listed` says of a job whether a sheet of the shop lists its cause. `shown`
    is *right* or *wrong* of a test by the job's cause (empty where that says nothing of it), *worked*, *failed* or
    *claimed* of a fit, *no-fit* or *put-away* of a gap. A fit's `model` is the one that the part went into.
    """

    kind: str
    shop: str
    day: str
    format: int = FORMAT
    model: str = ""
    job: int | None = None
    machine: int | None = None
    entry: str = ""
    cause: str = ""
    listed: bool | None = None
    minutes: float | None = None
    part: str = ""
    test: str = ""
    outcome: str = ""
    shown: str = ""
    from_model: str = ""

    def to_json(self) -> str:
        """The line as JSON, without what it does not tell.

        >>> SharedLine(kind="gap", shop="q9w1dfwf077y", day="2026-11-24", model="Tern 13", shown="no-fit").to_json()
        '{"kind":"gap","shop":"q9w1dfwf077y","day":"2026-11-24","format":1,"model":"Tern 13","shown":"no-fit"}'
        """
        told = {
            name: value
            for name, value in self.told().items()
            if value not in (None, "")
        }
        return json.dumps(told, separators=(",", ":"))

    def told(self) -> dict[str, object]:
        """All columns by their names."""
        return {name: getattr(self, name) for name in COLUMNS}


#: The names of all that a line may tell, in their order, with the sort of each.
COLUMNS: Mapping[str, str] = {
    one.name: str(one.type).removesuffix(" | None") for one in fields(SharedLine)
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What the lines are told with: the shop's sheets, and what machines turned out to be, by their folded tags."""

    entries: Sequence[Entry] = ()
    came_in: Mapping[str, str] = field(default_factory=lambda: NOBODY)


def office_id(shop: str) -> str:
    """The id under which an office knows a shop: always the same, and no way leads back.

    >>> office_id("one") == office_id("one") != office_id("two")
    True
    """
    return derived_id(f"benchlore office {shop}")


def shared_lines(history: History, seen: Seen) -> Iterator[SharedLine]:
    """All that a shop shares of its own jobs, those of folders that were moved into it among them.

    Retracted jobs and struck fits are left out, so are fits that other shops told.
    """
    yield from _Telling(history, seen).lines()


class _Telling:
    """Tells the lines one after another, and numbers jobs and machines as they come up."""

    def __init__(self, history: History, seen: Seen) -> None:
        self._history = history
        self._came_in = seen.came_in
        self._entries = {entry.slug: entry for entry in seen.entries}
        self._shop = office_id(history.shop)
        self._machines: dict[str, int] = {}
        self._spelt: dict[str, str] = {}

    def lines(self) -> Iterator[SharedLine]:
        own = self._history.own_shops()
        ours = (job for job in self._history.closed_jobs() if job.shop in own)
        for number, job in enumerate(ours, 1):
            yield self._job(number, job)
            yield from self._tests(number, job)
        yield from self._fits()
        yield from self._gaps()

    def _job(self, number: int, job: Job) -> SharedLine:
        entry, _, cause = job.cause.partition("/")
        model = model_of(job.model, job.unit, self._came_in)
        sheet = self._entries.get(entry)
        return SharedLine(
            kind="job",
            shop=self._shop,
            day=job.closed_at[:10],
            model=self._spelling(model),
            job=number,
            machine=self._machine(machine_key(model, job.unit, job.job)),
            entry=entry,
            cause=cause,
            listed=sheet is not None and sheet.cause(cause) is not None,
            minutes=job.minutes,
            part=job.part,
        )

    def _tests(self, number: int, job: Job) -> Iterator[SharedLine]:
        """A line for each test of a sheet that was done on a job."""
        entry, _, cause = job.cause.partition("/")
        for finding in job.outcomes:
            slug, _, name = finding.test.partition("/")
            sheet = self._entries.get(slug)
            test = sheet.test(name) if sheet else None
            if sheet is None or test is None:
                continue  # words of somebody's own
            is_listed = test.place_of(finding.outcome) is not None
            yield SharedLine(
                kind="test",
                shop=self._shop,
                day=job.closed_at[:10],
                model=self._spelling(model_of(job.model, job.unit, self._came_in)),
                job=number,
                entry=entry,
                cause=cause,
                test=f"{slug}/{test.slug}",
                outcome=finding.outcome if is_listed else "",
                shown=judged(sheet, cause, finding) if slug == entry else "",
            )

    def _fits(self) -> Iterator[SharedLine]:
        struck = {
            str(body_of(one)["record"])
            for one in self._history.records_since(0, kinds.STRUCK.name)
        }
        tried = self._history.records_since(0, kinds.FIT.name)
        told = [one for one in tried if one.id not in struck and not one.origin]
        for record in (*told, *taught_fits(self._history)):
            yield self._fit(record)

    def _fit(self, record: Record) -> SharedLine:
        body = body_of(record)
        return SharedLine(
            kind="fit",
            shop=self._shop,
            day=record.at[:10],
            model=self._spelling(str(body["to_model"])),
            from_model=self._spelling(str(body["from_model"])),
            part=str(body["part"]),
            shown=str(body["shown"]),
        )

    def _gaps(self) -> Iterator[SharedLine]:
        """When nothing fitted, and jobs that were put away without a cause."""
        for record in self._history.records_since(0, kinds.NO_FIT.name):
            model = self._spelling(str(body_of(record).get("model", "")))
            yield SharedLine(
                kind="gap",
                shop=self._shop,
                day=record.at[:10],
                model=model,
                shown="no-fit",
            )
        for gone in put_away(self._history, self._came_in):
            yield SharedLine(
                kind="gap",
                shop=self._shop,
                day=gone.at[:10],
                model=self._spelling(gone.model),
                machine=self._machine(gone.machine),
                shown="put-away",
            )

    def _machine(self, key: str) -> int:
        return self._machines.setdefault(key, len(self._machines) + 1)

    def _spelling(self, model: str) -> str:
        """The model as it was written first: case and blanks around it tell no models apart."""
        return self._spelt.setdefault(model.strip().casefold(), model.strip())


def judged(sheet: Entry, cause: str, finding: Finding) -> str:
    """Whether a test showed what the cause of its sheet makes it show; empty where that says nothing of the test."""
    record = of_tests([(cause, [[finding.test, finding.outcome]], 1)], sheet).get(
        finding.test.partition("/")[2]
    )
    if record is None:
        return ""
    return "right" if record.right else "wrong"
