"""The desk for the past: old jobs from spreadsheets and other shops, judged by line, taken in and back as one."""

from __future__ import annotations

import io
import json
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

from kb.base.trouble import NotThere, Refusal
from kb.bench.asking import AskingDesk
from kb.bench.shop import Desk
from kb.diagnosis import confirming
from kb.diagnosis.answer import Answer, CauseBelief
from kb.history import History, exchange, fields, kinds, spreadsheet
from kb.history.exchange import ImportReport, JobLine
from kb.history.ids import derived_id
from kb.history.moving import FloorLine, with_pictures
from kb.history.record import Record, canonical
from kb.history.spreadsheet import OldRow, Spreadsheet
from kb.history.taught_fits import strike_taught
from kb.history.trouble import NotAccepted
from kb.index.connections import over_a_sound_index
from kb.language import named
from kb.language.nearest import alike, nearest
from kb.model import Job, Remark
from kb.review.period import Period

#: A cause is saved only if it was written down, or proposed with this probability at least where nobody says another.
NO_PROPOSALS = 1.01
#: What the history knows of a line that `benchlore export` writes.
_KEYS = frozenset(one.name for one in fields.ALL) | {"retracted"}
#: Bytes that are no UTF-8, as they are read.
_BYTES = re.compile("[\udc80-\udcff]")
#: A cause as it is written, whether a sheet lists it or not.
_SLUGS = re.compile(r"[a-z0-9-]+/[a-z0-9-]+")

#: Words of a repair or of a verdict, which name no cause: "keyboard replaced", "new pack".
_DEEDS = frozenset(
    (
        *(
            "replaced",
            "replace",
            "exchanged",
            "changed",
            "swapped",
            "new",
            "fitted",
            "repaired",
            "fixed",
            "resoldered",
        ),
        *("bad", "broken", "defective", "faulty", "dead"),
    )
)
#: How often something like the name of one cause is written down where it was another one (assumption): one common word
#: does not outweigh all that the complaint says.
NAMED_BY_CHANCE = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class PastAsked:
    """How a file of old jobs is to be read.

    `columns` gives fields their headings, `days` the order in which days are written ("dmy", "mdy" or empty), `sure`
    the least probability with which a proposed cause is saved.
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    encoding: str = ""
    days: str = ""
    sure: float = NO_PROPOSALS
    new_models: bool = False


@dataclass(frozen=True, slots=True)
class Proposal:
    """A cause that the search proposes for a line, with the probability that it was this one."""

    line: int
    cause: str
    probability: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """What a file of old jobs brings: the report, what was proposed, and what is strange in it, counted.

    `sheet` is how a spreadsheet was read, None for JSON Lines; `imported` the id by which all of it can be taken back,
    empty where nothing was added or saved.
    """

    report: ImportReport
    sheet: Spreadsheet | None = None
    jobs: tuple[JobLine, ...] = ()
    proposals: tuple[Proposal, ...] = ()
    unknown_causes: Mapping[str, int] = field(default_factory=dict)
    near_models: Mapping[str, str] = field(default_factory=dict)
    unknown_keys: Mapping[str, int] = field(default_factory=dict)
    bad_days: int = 0
    imported: str = ""


class TakenList(NamedTuple):
    """A list that was taken in: the id of its import, its file, when, and how many of its jobs still count."""

    id: str
    file: str
    at: str
    jobs: int


class _DryRun(Exception):
    """Ends a block whose records are not to be kept."""


class PastDesk(Desk):
    """Where old jobs come in."""

    def read(self, data: bytes, asked: PastAsked, file: str, dry: bool = True) -> Past:
        """What a file of old jobs brings, every problem by line; without `dry` its good lines are saved.

        A file whose first sign is a brace is read as JSON Lines, another one as a spreadsheet. Raises Refusal for a
        file that cannot be read at all, and what the history raises.
        """
        if data.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{") or not data.strip():
            past, lines = self._of_json(data, file)
        else:
            past, lines = self._of_spreadsheet(data, asked, file)
        if not dry:
            lines = with_pictures(self.shop.history(), lines, self._keep, file)
        report, imported = _taken(self.shop.history(), lines, file, dry)
        return replace(past, report=report, imported=imported)

    def _keep(self, shows: str, sent: bytes) -> str:
        """Put a picture that came with a line into the album; what draws is loaded by the first one."""
        from kb.library.album import Album

        return Album(self.shop.shelf).keep(shows, sent)

    def day_begins(self, day: str) -> str:
        """The first moment (UTC) of a day (YYYY-MM-DD) in the shop's zone, empty for none."""
        return Period(since=day, zone=self.shop.settings.zone).begin

    def imports(self) -> list[TakenList]:
        """The lists that were taken in and still have jobs that count, latest first."""
        found = []
        for record in self.shop.history().records_since(0, kinds.IMPORTED.name):
            file = str(json.loads(record.body)["file"])
            found.append(
                TakenList(record.id, file, record.at, len(self.jobs_of(record)))
            )
        return [one for one in reversed(found) if one.jobs]

    def find_import(self, start: str) -> Record | None:
        """The record of the one import whose id begins so, None if there is none."""
        wanted = start.strip().lower()
        found = [
            one
            for one in self.shop.history().records_since(0, kinds.IMPORTED.name)
            if one.id.startswith(wanted)
        ]
        return found[0] if len(found) == 1 else None

    def jobs_of(self, imported: Record) -> tuple[str, ...]:
        """The ids of the jobs that came in with an import and are not retracted."""
        history, first = self.shop.history(), int(json.loads(imported.body)["first"])
        gone = history.retracted_jobs()
        since = history.records_since(first - 1, kinds.CLOSE.name)
        taken = [one.job for one in since if one.seq < imported.seq]
        return tuple(job for job in taken if job not in gone)

    def take_back(self, imported: Record, why: str, by: str = "") -> int:
        """Retract all jobs of an import, or none; gives how many."""
        history, jobs = self.shop.history(), self.jobs_of(imported)
        if not jobs:
            raise Refusal(f"all jobs of the import {imported.id} are retracted already")
        with history.together():
            for job in jobs:
                history.retract(job, why, by)
                strike_taught(history, job, why)
        return len(jobs)

    def _of_json(
        self, data: bytes, file: str
    ) -> tuple[Past, list[JobLine | FloorLine | Remark]]:
        text, unclean = [], []
        for number, line in enumerate(
            io.TextIOWrapper(io.BytesIO(data), "utf-8", "surrogateescape"), 1
        ):
            is_unclean = _BYTES.search(line)
            text.append("" if is_unclean else line)
            if is_unclean:
                unclean.append(_unclean(number, file))
        lines = [*exchange.read_lines(text, file), *unclean]
        jobs = [line for line in lines if isinstance(line, JobLine)]
        past = Past(
            report=ImportReport(0, 0, ()),
            unknown_causes=self._unknown_causes(jobs),
            near_models=self._near_models(jobs),
            unknown_keys=_unknown_keys(text),
        )
        return past, lines

    def _of_spreadsheet(
        self, data: bytes, asked: PastAsked, file: str
    ) -> tuple[Past, list[JobLine | FloorLine | Remark]]:
        sheet = spreadsheet.read(data, asked.columns, file, asked.encoding)
        reader = _RowsOfOldJobs(self, asked, sheet, file)
        lines: list[JobLine | FloorLine | Remark] = [
            *sheet.remarks,
            *map(reader.line, sheet.rows),
        ]
        jobs = [line for line in lines if isinstance(line, JobLine)]
        past = Past(
            report=ImportReport(0, 0, ()),
            sheet=sheet,
            jobs=tuple(jobs),
            proposals=tuple(reader.proposals),
            unknown_causes=dict(sorted(reader.unknown_causes.items())),
            near_models=dict(sorted(reader.near_models.items())),
            bad_days=reader.bad_days,
        )
        return past, lines

    def _unknown_causes(self, jobs: Sequence[JobLine]) -> Mapping[str, int]:
        counted = Counter(line.job.cause for line in jobs)
        return {
            cause: count
            for cause, count in sorted(counted.items())
            if self.problem_with(cause)
        }

    def _near_models(self, jobs: Sequence[JobLine]) -> Mapping[str, str]:
        """Models that nobody has seen here, each with the one it is probably meant to be."""
        asking = AskingDesk(self.shop)
        near = {
            model: asking.near_model(model)
            for model in sorted({line.job.model for line in jobs})
        }
        return {model: one for model, one in near.items() if one}

    @over_a_sound_index
    def problem_with(self, cause: str) -> str:
        """Why a text is no cause (`entry/cause`) that a sheet here lists, empty if it is one."""
        with self.shop.knowing() as knowledge:
            try:
                confirming.check_cause(cause, knowledge)
            except NotThere as problem:
                return str(problem)
            return ""


class _RowsOfOldJobs:
    """Makes jobs of the rows of one spreadsheet; a class because rows are held against those before them."""

    def __init__(
        self, desk: PastDesk, asked: PastAsked, sheet: Spreadsheet, file: str
    ) -> None:
        self.desk, self.asked, self.file = desk, asked, file
        self.order = asked.days or spreadsheet.order_of(
            [row.values.get("day", "") for row in sheet.rows]
        )
        self.zone = desk.shop.settings.zone
        self.asking = AskingDesk(desk.shop)
        self.models = self.asking.models()
        self._spelt = _most_frequent_spellings(
            row.values.get("model", "") for row in sheet.rows
        )
        self.same = desk.shop.same_models()
        self.proposals: list[Proposal] = []
        self.unknown_causes: Counter[str] = Counter()
        self.near_models: dict[str, str] = {}
        self.bad_days = 0
        self._answers: dict[tuple[str, str], Answer] = {}
        self._alike: Counter[str] = Counter()

    def line(self, row: OldRow) -> JobLine | Remark:
        """The job that a row tells of, or all that is wrong with it; one that came in before is as it was saved."""
        identity = self._id(row)
        state = self.desk.shop.history().find_job(identity)
        if state and state.closed:
            return JobLine(row.line, state.closed, "", named=True)
        wrong: list[NotAccepted] = []
        told = row.values
        model = self._model(told.get("model", ""), wrong)
        cause = self._cause(row, model, wrong)
        closed_at, minutes = self._day_and_minutes(told, wrong)
        job = Job(
            job=identity,
            model=model or "?",
            cause=cause or "a/a",
            closed_at=closed_at,
            unit=told.get("tag", ""),
            words=told.get("words", ""),
            minutes=minutes,
            part=told.get("part", ""),
            donor=told.get("donor", ""),
            by=told.get("by", ""),
            note=_note(told),
        )
        try:
            job = fields.accepted(job)
        except NotAccepted as refusal:
            wrong.append(refusal)
        if wrong:
            *before, last = wrong
            with_remedies = [f"{one.problem} ({one.instead})" for one in before]
            return Remark(
                self.file,
                row.line,
                "; ".join((*with_remedies, last.problem)),
                last.instead,
            )
        return JobLine(row.line, job, "", named=True)

    def _day_and_minutes(
        self, told: Mapping[str, str], wrong: list[NotAccepted]
    ) -> tuple[str, float | None]:
        closed_at, minutes = "2000-01-01T00:00:00Z", None
        try:
            closed_at = spreadsheet.moment_of(
                told.get("day", ""), self.order, self.zone
            )
        except NotAccepted as refusal:
            self.bad_days += 1
            wrong.append(refusal)
        try:
            minutes = spreadsheet.minutes_of(told.get("minutes", ""))
        except NotAccepted as refusal:
            wrong.append(refusal)
        return closed_at, minutes

    def _id(self, row: OldRow) -> str:
        """An id made of what the line says, so that the same file again brings nothing new.

        Lines that say the same are jobs of their own, unless they name one tag.
        """
        said = canonical(dict(row.values))
        self._alike[said] += 0 if row.values.get("tag") else 1
        return derived_id(f"{said} {self._alike[said]}")

    def _model(self, given: str, wrong: list[NotAccepted]) -> str:
        model = named.spelt(self.same.kept(given), self.models)
        if model not in self.models:
            model = self._spelt.get(model, model)
        if not model:
            wrong.append(NotAccepted("the model is missing", "write it"))
            return model
        near = self._near(model)
        if near:
            self.near_models[model] = near
            problem = f"no job was ever on a {model[:40]}; the nearest is {near}"
            wrong.append(
                NotAccepted(
                    problem, f"write {near}, or add --new-models if it is another"
                )
            )
        return model

    def _near(self, model: str) -> str:
        """The model that one which nobody has seen here is probably meant to be; empty if it is meant as written."""
        if self.asked.new_models or model in self.models or self.same.is_settled(model):
            return ""
        return nearest(model, self.models) or ""

    def _cause(self, row: OldRow, model: str, wrong: list[NotAccepted]) -> str:
        """The cause that a row names, or the one that the search proposes if that is sure enough."""
        written, words = row.values.get("cause", ""), row.values.get("words", "")
        problem = self.desk.problem_with(written)
        if not problem:
            return written
        if written:
            self.unknown_causes[written] += 1
        if _SLUGS.fullmatch(written):
            wrong.append(NotAccepted(*problem.split("; ", 1)))
            return written
        proposal = self._proposal(row, model)
        if proposal is None:
            told = words or written
            problem = (
                f"nothing here fits `{told[:60]}`"
                if told
                else "neither words nor a cause are written"
            )
            wrong.append(
                NotAccepted(
                    problem,
                    "write the cause as entry/cause; benchlore list shows the sheets",
                )
            )
            return ""
        self.proposals.append(proposal)
        if proposal.probability < self.asked.sure:
            likely = f"{proposal.cause} at {proposal.probability:.0%}"
            what = (
                f"the cause `{written[:40]}` is not written as entry/cause"
                if written
                else "no cause is written"
            )
            instead = "write the cause so, or take proposals from a probability on, such as --propose 80"
            wrong.append(NotAccepted(f"{what}; proposed: {likely}", instead))
        return proposal.cause

    def _proposal(self, row: OldRow, model: str) -> Proposal | None:
        """The likeliest cause by the words; of causes named like what was written down, the likeliest of those."""
        written = row.values.get("cause", "")
        words = row.values.get("words", "") or written
        answer = self._answer(words, model)
        if not answer.fits:
            return None
        causes = [cause for entry in answer.entries for cause in entry.causes]
        total = 1.0
        things = _things(written)
        named = _named_like(things, causes) if things else []
        if named:
            whole = sum(cause.probability for cause in named)
            causes, total = named, whole + NAMED_BY_CHANCE * (1 - whole)
        best = max(
            causes,
            key=lambda cause: (
                cause.probability,
                _plain(cause.slug) == things,
                cause.cause,
            ),
            default=None,
        )
        return (
            Proposal(row.line, best.cause, best.probability / (total or 1.0))
            if best
            else None
        )

    def _answer(self, words: str, model: str) -> Answer:
        if (words, model) not in self._answers:
            self._answers[words, model] = self.asking.search(words, model, limit=5)
        return self._answers[words, model]


def _most_frequent_spellings(models: Iterable[str]) -> dict[str, str]:
    """Of names that differ in case, spaces and hyphens alone, the one that each is written as most often."""
    counted = Counter(models)
    spelt: dict[str, str] = {}
    for names in named.alike(counted):
        most = max(names, key=lambda name: counted[name])
        spelt |= dict.fromkeys(names, most)
    return spelt


def _things(written: str) -> str:
    """What was written down as a cause, without hyphens and without what was done about it.

    >>> _things("Keyboard replaced"), _things("charge-indicator board"), _things("fixed")
    ('keyboard', 'charge indicator board', 'fixed')
    """
    plain = _plain(written)
    return " ".join(word for word in plain.split() if word not in _DEEDS) or plain


def _plain(name: str) -> str:
    return name.casefold().replace("-", " ").strip()


def _named_like(things: str, causes: Sequence[CauseBelief]) -> list[CauseBelief]:
    """The causes whose names are like what was written down."""
    likely = set(
        alike(
            things,
            {cause.cause: _plain(f"{cause.slug} {cause.name}") for cause in causes},
        )
    )
    return [cause for cause in causes if cause.cause in likely]


def _note(told: Mapping[str, str]) -> str:
    """The note of a job; a cause in plain words is kept in it, as it was written."""
    written = told.get("cause", "")
    as_written = f"written down as: {written}" if written and "/" not in written else ""
    return "\n".join(filter(None, (told.get("note", ""), as_written)))


def _taken(
    history: History,
    lines: Sequence[JobLine | FloorLine | Remark],
    file: str,
    dry: bool,
) -> tuple[ImportReport, str]:
    """Take the lines in, with one record more that holds them together; a dry run leaves nothing."""
    report, imported = ImportReport(0, 0, ()), ""
    try:
        with history.together():
            first = history.tip().count + 1
            report = exchange.take_in(history, lines, file)
            if dry:
                raise _DryRun
            if report.added:
                body = {
                    "file": Path(file).name[:200],
                    "first": first,
                    "jobs": report.added,
                }
                imported = history.note(kinds.IMPORTED, "", body).id
    except _DryRun:
        pass
    return report, imported


def _unclean(number: int, file: str) -> Remark:
    return Remark(
        file,
        number,
        "this line is not UTF-8 and cannot be read cleanly",
        "write the file anew as UTF-8",
    )


def _unknown_keys(text: Sequence[str]) -> Mapping[str, int]:
    """The keys of lines of JSON that no job has, with how many lines have each."""
    counted: Counter[str] = Counter()
    for line in text:
        try:
            content = json.loads(line)
        except (ValueError, RecursionError):
            continue
        if isinstance(content, dict) and "kind" not in content:
            counted.update(content.keys() - _KEYS)
    return dict(sorted(counted.items()))
