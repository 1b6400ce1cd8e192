"""The shop's memory of jobs: opened, tested, closed with their cause, retracted; nothing is ever changed."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from pathlib import Path
from types import TracebackType

from kb.base.clock import Clock, stamp, utc_now
from kb.base.worded import worded
from kb.history import fields, intake, kinds
from kb.history.ids import random_id
from kb.history.jobs import OpenJob
from kb.history.kinds import Kind
from kb.history.ledger import Ledger
from kb.history.recall import Recall
from kb.history.record import Record
from kb.history.schema import PATIENCE
from kb.history.trouble import JobClosed, JobRetracted, NotAccepted
from kb.model import Confirmation, Job, Told


class History(Recall):
    """An open history. It belongs to one thread; open one per request, which is cheap, and close it.

    Every writing method takes the one-time token of the form it came from: the same token again saves
    nothing new and gives what the first gave. All of them raise HistoryBusy, DiskTrouble or HistoryLost
    when nothing could be saved, and a Refusal when what was asked does not fit.
    """

    def __init__(self, ledger: Ledger) -> None:
        super().__init__(ledger)
        self._own: tuple[str | None, frozenset[str]] = (None, frozenset())

    @classmethod
    def open(
        cls,
        path: Path,
        clock: Clock = utc_now,
        new_id: Callable[[], str] = random_id,
        create: bool = True,
        patience: float = PATIENCE,
    ) -> History:
        """The history at that path; a new one where there has never been one, unless `create` is false.

        A writer waits for others as many seconds as `patience` says, then it is HistoryBusy.
        Raises HistoryLost, HistoryForeign, NoHistory, HistoryBusy or DiskTrouble.
        """
        return cls(Ledger.open(path, clock, new_id, create, patience))

    def stands(self) -> bool:
        """Whether the file that was opened is still the one at its path, and not a newer program's."""
        return self._ledger.stands()

    def close(self) -> None:
        """Let the file go."""
        self._ledger.close()

    def __enter__(self) -> History:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def own_shops(self) -> frozenset[str]:
        """The shops whose jobs are of the machines here: this one, and those whose folders were moved into it.

        Where a program of old moved one, it is whoever closed the jobs that came by then.
        """
        last = self._ledger.last_of(kinds.MOVED_IN.name)
        if last != self._own[0]:
            moved = {
                json.loads(one.body)["shop"]
                for one in self._ledger.since(0, kinds.MOVED_IN.name)
            }
            unnamed = self._ledger.shops_before(kinds.MOVED_IN.name, kinds.MOVED_ALONE)
            self._own = last, frozenset({self.shop, *moved, *unnamed})
        return self._own[1]

    def together(self) -> AbstractContextManager[None]:
        """A block in which everything written is kept, or nothing."""
        return self._ledger.transaction()

    def open_job(
        self, model: str, unit: str = "", words: str = "", token: str = ""
    ) -> str:
        """The id of a new job: a machine on the bench for one complaint; its model may be given when it is closed."""
        body = kinds.OPEN.kept({"model": model, "unit": unit, "words": words})
        with self.together():
            return self._ledger.append(
                kinds.OPEN.name, self._ledger.fresh_id(), body, _token(token)
            ).job

    def open_again(self, job: str, token: str = "") -> str:
        """The id of a new open job with the words, machine and findings of one that was closed or retracted.

        The machine of another shop's job is not named: here its tag is another machine's, or nobody's.
        """
        old = self.as_written().job_state(job)
        findings = old.closed.outcomes if old.closed else old.outcomes
        with self.together():
            is_ours = old.closed is None or old.closed.shop in self.own_shops()
            new = self.open_job(
                old.model, old.unit if is_ours else "", old.words, token
            )
            for number, finding in enumerate(findings):
                body = {"test": finding.test, "outcome": finding.outcome}
                self.note(kinds.FINDING, new, body, token and f"{token}-{number}")
        return new

    def note(
        self, kind: Kind, job: str, body: Mapping[str, object], token: str = ""
    ) -> Record:
        """Append a record of that kind; one about an open job, or a job at all, is refused where there is none."""
        kept = kind.kept(body)
        with self.together():
            if earlier := self._ledger.by_token(_token(token)):
                return earlier
            return self._ledger.append(
                kind.name, self._subject(kind, job), kept, _token(token)
            )

    def take_back(self, job: str, record: str, token: str = "") -> Record:
        """Undo a finding or a failed fix of an open job, named by the id of its record."""
        with self.together():
            if earlier := self._ledger.by_token(_token(token)):
                return earlier
            state = self._open_state(job)
            if record not in state.note_ids:
                raise NotAccepted(
                    worded("that note is not on this job or was taken back before"),
                    worded("load the job again"),
                )
            return self._ledger.append(
                kinds.TAKE_BACK.name, state.job, {"record": record}, _token(token)
            )

    def close_job(self, confirmation: Confirmation, token: str = "") -> Record:
        """Close a job with its confirmed cause; a job that was never opened is made on the way."""
        with self.together():
            if earlier := self._ledger.by_token(_token(token)):
                return earlier
            opened = self._open_state(confirmation.job) if confirmation.job else None
            job = self._confirmed(
                confirmation, opened or OpenJob(job=self._ledger.fresh_id())
            )
            return self._ledger.append(
                kinds.CLOSE.name, job.job, fields.to_json(job), _token(token)
            )

    def adopt(self, job: Job, token: str = "") -> Record:
        """Take in a job that was closed elsewhere, with its own id, shop and time."""
        accepted = fields.accepted(job)
        with self.together():
            if earlier := self._ledger.by_token(_token(token)):
                return earlier
            state = self.find_job(accepted.job)
            if state and state.closed:
                raise JobClosed(
                    worded(
                        "job {job} is closed already; give the other job another id",
                        job=accepted.job,
                    )
                )
            body = fields.to_json(accepted)
            return self._ledger.append(
                kinds.CLOSE.name, accepted.job, body, _token(token), accepted.shop
            )

    def retract(self, job: str, why: str, by: str = "", token: str = "") -> Record:
        """Declare a job wrong, for good; it is named by its id or by the first characters of it."""
        body = kinds.RETRACT.kept({"why": why, "by": by})
        with self.together():
            if earlier := self._ledger.by_token(_token(token)):
                return earlier
            state = self.job_state(self.full_id(job))
            if state.retracted:
                raise JobRetracted(
                    worded(
                        "job {job} is retracted already: {retracted}",
                        job=state.job,
                        retracted=state.retracted[:200],
                    )
                )
            return self._ledger.append(
                kinds.RETRACT.name, state.job, body, _token(token)
            )

    def _subject(self, kind: Kind, job: str) -> str:
        """The job that a record of this kind is about, where it is one."""
        if kind.about == "open job":
            return self._open_state(job).job
        if kind.about == "job":
            return self.job_state(job).job
        return intake.name(job, "job")

    def _open_state(self, job: str) -> OpenJob:
        """An open job as it was written, so that what is noted further hangs on no merge of models."""
        state = self.as_written().job_state(job)
        if state.retracted:
            raise JobRetracted(
                worded(
                    "job {job} was retracted: {retracted}; open a new job",
                    job=state.job,
                    retracted=state.retracted[:200],
                )
            )
        if state.closed:
            raise JobClosed(
                worded(
                    "job {job} is closed already as {cause}; retract it if that was wrong, or open a new job",
                    job=state.job,
                    cause=state.closed.cause,
                )
            )
        return state

    def _confirmed(self, given: Confirmation, opened: OpenJob) -> Job:
        """The job that a confirmation closes: what it leaves empty is as the open job has it."""
        told = {
            field.name: getattr(given, field.name) for field in dataclasses.fields(Told)
        }
        told["unit"] = given.unit.strip() or opened.unit
        told["words"] = given.words or opened.words
        told["outcomes"] = given.outcomes or opened.outcomes
        model = given.model.strip() or opened.model
        closed_at = given.closed_at or stamp(self._ledger.now())
        return fields.accepted(
            Job(opened.job, model, given.cause, closed_at, self.shop, **told)
        )


def _token(token: str) -> str:
    return intake.name(token, "token")
