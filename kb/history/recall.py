"""What can be recalled of jobs: as they stand, closed, open or retracted, and the records behind them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from kb.base.worded import worded
from kb.history import intake, kinds
from kb.history.jobs import OpenJob, job_of, state_of
from kb.history.ledger import Ledger
from kb.history.marks import Tip
from kb.history.record import Record
from kb.history.same import ALL_APART, SameModels, same_told
from kb.history.trouble import AmbiguousJob, UnknownJob, in_plain_words
from kb.model import Job


class Recall:
    """What an open history tells; nothing is written here.

    Models have the names that are kept, whatever name a record was written with, unless it is recalled `as_written`.
    """

    def __init__(self, ledger: Ledger, as_written: bool = False) -> None:
        self._ledger = ledger
        self._is_as_written = as_written
        self._same: tuple[tuple[str, str], SameModels] = (("", ""), ALL_APART)
        self.path = ledger.path
        self.shop = ledger.shop
        self.created = ledger.created

    def as_written(self) -> Recall:
        """The same with the names of models as each record was written."""
        return Recall(self._ledger, as_written=True)

    def same_models(self) -> SameModels:
        """Which names mean the same model by now."""
        last = (
            "" if self._is_as_written else self._ledger.last_of(kinds.SAME_MODEL.name)
        )
        if not last:
            return ALL_APART
        state = last, self._ledger.last_of(kinds.STRUCK.name)
        if state != self._same[0]:
            told = [
                one
                for kind in (kinds.SAME_MODEL, kinds.STRUCK)
                for one in self._ledger.since(0, kind.name)
            ]
            with in_plain_words(self.path):
                self._same = state, same_told(told)
        return self._same[1]

    def _meant(self, records: Iterable[Record]) -> Iterator[Record]:
        same = self.same_models()
        return map(same.meant, records) if same else iter(records)

    def records_since(self, seq: int = 0, kind: str = "") -> Iterator[Record]:
        """The records after that sequence number, in order, of one kind or of all."""
        return self._meant(self._ledger.since(seq, kind))

    def records(self, seqs: Sequence[int]) -> tuple[Record, ...]:
        """The records of those sequence numbers, in order."""
        return tuple(self._meant(self._ledger.records(seqs)))

    def holds(self, record: str) -> bool:
        """Whether a record of that id stands here."""
        return self._ledger.has_record(record)

    def written_with(self, token: str) -> Record | None:
        """The record that was written with that token, if there is one."""
        found = self._ledger.by_token(intake.name(token, "token"))
        return self.same_models().meant(found) if found else None

    def closed_jobs(self, include_retracted: bool = False) -> Iterator[Job]:
        """Every closed job in the order in which this history learned of it."""
        passed = set() if include_retracted else set(self._ledger.jobs_with("retract"))
        for record in self.records_since(0, "close"):
            if record.job not in passed:
                with in_plain_words(self.path):
                    job = job_of(record)
                yield job

    def last_closed(self, count: int) -> tuple[Job, ...]:
        """The jobs that this shop closed last, latest first, without those that were retracted or came from others."""
        with in_plain_words(self.path):
            return tuple(
                map(
                    job_of,
                    self._meant(self._ledger.latest("close", ("retract",), count)),
                )
            )

    def retracted_jobs(self) -> Mapping[str, str]:
        """The ids of the retracted jobs with the reasons."""
        with in_plain_words(self.path):
            return {
                record.job: state_of(record.job, [record]).retracted
                for record in self._ledger.since(0, "retract")
            }

    def open_jobs(self) -> tuple[OpenJob, ...]:
        """The jobs on the bench, in the order in which they were opened."""
        return tuple(
            self.job_state(job)
            for job in self._ledger.jobs_with("open", ("close", "retract"))
        )

    def clocked_jobs(self) -> tuple[OpenJob, ...]:
        """The jobs on the bench of which somebody said that they were taken up or left."""
        return tuple(
            self.job_state(job)
            for job in self._ledger.jobs_with("clock", ("close", "retract"))
        )

    def job_state(self, job: str) -> OpenJob:
        """The job of that id as it stands; raises UnknownJob."""
        state = self.find_job(job)
        if state is None:
            raise UnknownJob(
                worded(
                    "no job has the id {job}; the saved job's page and an export give the id",
                    job=intake.clean(job)[:40],
                )
            )
        return state

    def find_job(self, job: str) -> OpenJob | None:
        """The job of that id as it stands, or None."""
        wanted = intake.clean(job)
        records = tuple(self._meant(self._ledger.of_job(wanted))) if wanted else ()
        with in_plain_words(self.path):
            exists = any(record.kind in kinds.MAKE_A_JOB for record in records)
            return state_of(wanted, records) if exists else None

    def full_id(self, start: str) -> str:
        """The id of the one job that has this id or begins with it; raises UnknownJob or AmbiguousJob."""
        wanted = intake.clean(start).strip()
        for given in (wanted, wanted.lower()):
            found = self._ledger.jobs_like(given, kinds.MAKE_A_JOB, 6) if given else ()
            if given in found or len(found) == 1:
                return given if given in found else found[0]
            if found:
                raise AmbiguousJob(
                    worded(
                        "{found} jobs begin with {given} ({found2}); give more characters of the id",
                        found=len(found) if len(found) < 6 else worded("many"),
                        given=given[:40],
                        found2=", ".join(found[:5]),
                    )
                )
        raise UnknownJob(
            worded(
                "no job has an id beginning with {wanted}; the saved job's page and an export give it",
                wanted=wanted[:40] or "nothing",
            )
        )

    def tip(self) -> Tip:
        """How many records there are, and the last chain value: equal tips mean equal histories."""
        return self._ledger.tip()

    def link(self, seq: int) -> str:
        """The chain value of the record with that number, of 0 that before the first; empty if there is none."""
        return self._ledger.link(seq)

    def first_time_after(self, seq: int) -> str:
        """The earliest time among the first records after that number, empty if there is none."""
        return self._ledger.first_time_after(seq)

    def now(self) -> datetime:
        """The time by the clock this history was given."""
        return self._ledger.now()

    def clock_warning(self) -> str:
        """In words why the clock looks wrong, empty if it does not."""
        return self._ledger.clock_warning()
