"""The desk for jobs: opened, noted on, confirmed, retracted and looked up."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from kb.base.clock import stamp
from kb.base.trouble import Refusal
from kb.base.worded import worded
from kb.bench.asking import AskingDesk
from kb.bench.shop import Desk
from kb.diagnosis import confirming
from kb.diagnosis.answer import Answer
from kb.diagnosis.case import SoFar
from kb.history import History, kinds
from kb.history.benchtime import FROM_ANOTHER, minutes_on_the_bench
from kb.history.ids import token_beside
from kb.history.intake import tag_key
from kb.history.jobs import OpenJob, job_of
from kb.history.taught_fits import strike_taught
from kb.history.trouble import ClockDoubt
from kb.index.connections import over_a_sound_index
from kb.model import Confirmation, Finding, Job, Test, named_test

#: No test that is done before a job is opened takes longer.
A_TEST = timedelta(minutes=15)


class Untested(Refusal):
    """A cause is not confirmed before the tests that its fix comes after, unless one says that one knows it."""

    def __init__(self, cause: str, tests: Sequence[Test]) -> None:
        self.tests = tuple(test.title for test in tests)
        what = " and ".join(f"“{title}”" for title in self.tests)
        super().__init__(
            worded(
                "nothing is on record of {what}, without which `{cause}` is a guess",
                what=what,
                cause=cause,
            )
        )


@dataclass(frozen=True, slots=True)
class Receipt:
    """What was saved, and what it changed."""

    job: str
    cause: str
    model: str
    effect: str


@dataclass(frozen=True, slots=True)
class Standing:
    """A job with its answer as of now, and its minutes on the bench, if believable."""

    job: OpenJob
    answer: Answer
    minutes: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobsWanted:
    """Which jobs are wanted; what is empty asks for nothing. `since` is a day, as YYYY-MM-DD."""

    unit: str = ""
    model: str = ""
    since: str = ""

    def takes(self, unit: str, model: str, at: str) -> bool:
        """Whether a job is one of those, by its machine, its model and its time."""
        if self.unit.strip() and tag_key(self.unit) != tag_key(unit):
            return False
        if (
            self.model.strip()
            and self.model.strip().casefold() != model.strip().casefold()
        ):
            return False
        return at[: len(self.since)] >= self.since


class JobDesk(Desk):
    """Where jobs are written down and found again."""

    def confirm(
        self,
        given: Confirmation,
        token: str = "",
        untested: bool = False,
        clock_is_right: bool = False,
    ) -> Receipt:
        """Record that on a job it was this cause; the same token again saves nothing new.

        `untested` says that one knows it without the tests that its fix comes after. Raises NotThere for a cause
        that no entry lists, Untested if such a test is not on record, ClockDoubt if the clock that gives the date looks
        wrong and nobody says that it is right, and what the history raises.
        """
        self._check_cause(given.cause)
        given = replace(given, model=AskingDesk(self.shop).spelt(given.model))
        if not untested and (
            missing := self.untested(given.cause, given.job, given.outcomes)
        ):
            raise Untested(given.cause, missing)
        if not (clock_is_right or given.closed_at) and (
            doubt := self.shop.history().clock_warning()
        ):
            raise ClockDoubt(worded("{doubt}; nothing was saved", doubt=doubt))
        record = self.shop.history().close_job(given, token)
        is_new = record.kind == kinds.CLOSE.name
        job = (
            job_of(self.shop.same_models().meant(record))
            if is_new
            else self.job(record.job).closed
        )
        assert job is not None
        try:
            effect = self._effect(job.cause, job.model)
        except sqlite3.Error:  # it is saved, whatever became of the index
            effect = worded("the counts follow once the index can be written")
        return Receipt(record.job, job.cause, job.model, effect)

    def untested(
        self, cause: str, job: str = "", outcomes: Sequence[Finding] = ()
    ) -> tuple[Test, ...]:
        """The tests that the fix of a cause comes after and that showed nothing on the job; raises UnknownJob."""
        shown = (*outcomes, *(self.job(job).outcomes if job else ()))
        return self._missing(cause, shown)

    def retract(self, job: str, why: str, by: str = "", token: str = "") -> str:
        """Declare a closed job wrong; the numbers follow at once, and what it taught of fits. Gives its full id."""
        history = self.shop.history()
        with history.together():
            full = history.retract(job, why, by, token).job
            strike_taught(history, full, why)
        return full

    def job(self, job: str) -> OpenJob:
        """The job of that id as it stands; raises UnknownJob."""
        return self.shop.history().job_state(job)

    def receipt(self, job: str) -> Receipt | None:
        """What was saved for a closed job and what that means by now; None for a job still open. Raises UnknownJob."""
        closed = self.job(job).closed
        return (
            Receipt(
                job,
                closed.cause,
                closed.model,
                self._effect(closed.cause, closed.model),
            )
            if closed
            else None
        )

    def begin(
        self, words: str, model: str = "", unit: str = "", token: str = ""
    ) -> str:
        """The id of a new open job; the model may stay empty until the job is confirmed."""
        return self.shop.history().open_job(
            AskingDesk(self.shop).spelt(model), unit, words, token
        )

    def found(self, job: str, finding: Finding, token: str = "") -> None:
        """Note on an open job what a test showed."""
        self.shop.history().note(
            kinds.FINDING,
            job,
            {"test": finding.test, "outcome": finding.outcome},
            token,
        )

    def did_not_help(self, job: str, fix: str, token: str = "") -> None:
        """Note on an open job a fix that changed nothing, by the name of a cause it cures (`entry/cause`)."""
        self.shop.history().note(kinds.FAILED_FIX, job, {"fix": fix}, token)

    def could_not_do(
        self, job: str, test: str, skip: bool = True, token: str = ""
    ) -> None:
        """Set a test (`entry/test`) aside on this job, or with `skip` false put it back."""
        self.shop.history().note(kinds.SKIP, job, {"test": test, "skip": skip}, token)

    def take_up(self, job: str, by: str, token: str = "") -> None:
        """Say that somebody works on an open job from now on; whatever else they worked on stands still.

        `by` is their initials, or a name for the bench they sit at. Nothing is written if all that is so already.
        """
        history = self.shop.history()
        with history.together():
            others = [
                other
                for other in history.clocked_jobs()
                if by in other.run_by and other.job != job
            ]
            for number, other in enumerate(others):
                body = {"shown": "off", "by": by, "why": FROM_ANOTHER}
                history.note(
                    kinds.CLOCK, other.job, body, token_beside(token, f"off{number}")
                )
            if by not in self.job(job).run_by:
                came = bool(others) or self._just_done(by)
                body = {"shown": "on", "by": by, "why": FROM_ANOTHER if came else ""}
                history.note(kinds.CLOCK, job, body, token_beside(token, "on"))

    def leave(self, job: str, by: str, why: str, token: str = "") -> None:
        """Say that somebody works on an open job no more, or not now, and why."""
        history = self.shop.history()
        with history.together():
            state = self.job(job)
            if by in state.run_by or not state.turns:
                history.note(
                    kinds.CLOCK, job, {"shown": "off", "by": by, "why": why}, token
                )

    def _just_done(self, by: str) -> bool:
        """Whether they closed a job so lately that a test before the next one ran on its clock."""
        since = stamp(self.shop.clock() - A_TEST)
        return any(
            job.by == by and job.closed_at >= since
            for job in self.shop.history().last_closed(5)
        )

    def take_back(self, job: str, record: str, token: str = "") -> None:
        """Undo a finding or a failed fix of an open job, by the id of its record."""
        self.shop.history().take_back(job, record, token)

    def nothing_fits(
        self, text: str, model: str = "", job: str = "", token: str = ""
    ) -> None:
        """Write down that nothing here fits these words; the same token again writes nothing."""
        self.shop.history().note(
            kinds.NO_FIT, job, {"words": text, "model": model}, token
        )

    def open_jobs(self) -> tuple[OpenJob, ...]:
        """The jobs on the bench, latest first; none while the history cannot be used (its warnings say so)."""
        return self.shop.if_usable(
            lambda history: tuple(reversed(history.open_jobs())), ()
        )

    def last_saved(self, count: int, first: str = "") -> tuple[Job, ...]:
        """The jobs confirmed last in this shop, latest first, before them the one of the id `first` if it counts.

        Empty while the history cannot be used.
        """

        def latest(history: History) -> tuple[Job, ...]:
            jobs = history.last_closed(count)
            own = history.find_job(first)
            if own and own.confirmed:
                others = [job for job in jobs if job.job != own.job]
                jobs = (own.confirmed, *others)
            return jobs[:count]

        return self.shop.if_usable(latest, ())

    def noon(self, day: str) -> str:
        """The noon of a day (YYYY-MM-DD) in the shop's zone, as the history keeps times; Refusal for one to come."""
        now = self.shop.clock()
        local = (
            datetime.fromisoformat(day)
            .replace(hour=12, tzinfo=self.shop.settings.zone)
            .astimezone(UTC)
        )
        if local.date() > now.astimezone(UTC).date():
            raise Refusal(
                worded(
                    "{day} is still to come; give the day on which it was found",
                    day=day,
                )
            )
        return stamp(min(local, now))

    def open_like(self, wanted: JobsWanted) -> tuple[OpenJob, ...]:
        """The jobs on the bench that are wanted, latest first."""
        wanted = self._by_its_model(wanted)
        return tuple(
            job
            for job in self.open_jobs()
            if wanted.takes(job.unit, job.model, job.opened_at)
        )

    def closed_like(self, wanted: JobsWanted) -> tuple[Job, ...]:
        """The closed jobs that are wanted, latest first (in one second the last saved), without retracted ones.

        Those of other shops are on none of our machines, whatever their tags are.
        """
        wanted = self._by_its_model(wanted)

        def listed(history: History) -> list[Job]:
            own = history.own_shops()
            return [
                job
                for job in history.closed_jobs()
                if not wanted.unit.strip() or job.shop in own
            ]

        none: list[Job] = []
        closed = self.shop.if_usable(listed, none)
        found = [
            job for job in closed if wanted.takes(job.unit, job.model, job.closed_at)
        ]
        found.sort(key=lambda job: job.closed_at)
        return tuple(reversed(found))

    def _by_its_model(self, wanted: JobsWanted) -> JobsWanted:
        """The same with the name of the model under which its jobs are counted."""
        return replace(wanted, model=self.shop.same_models().kept(wanted.model))

    def standing(self, job: str, limit: int = 5) -> Standing:
        """A job as it stands, with the answer to its words after all that was found; raises UnknownJob."""
        state = self.job(job)
        asking = AskingDesk(self.shop)
        answer = asking.search(
            state.words,
            state.model,
            findings=state.outcomes,
            limit=limit,
            at=so_far(state),
        )
        return Standing(
            state,
            answer,
            minutes_on_the_bench(state, self.shop.clock(), self._first_test(state)),
        )

    def take_up_again(self, job: str, token: str = "") -> str:
        """The id of a new open job with the words, machine and findings of one that was closed or retracted."""
        return self.shop.history().open_again(job, token)

    @over_a_sound_index
    def _check_cause(self, cause: str) -> None:
        with self.shop.knowing() as knowledge:
            confirming.check_cause(cause, knowledge)

    @over_a_sound_index
    def _missing(self, cause: str, shown: Sequence[Finding]) -> tuple[Test, ...]:
        with self.shop.knowing() as knowledge:
            return confirming.missing_tests(cause, shown, knowledge)

    @over_a_sound_index
    def _effect(self, cause: str, model: str) -> str:
        with self.shop.knowing(model) as knowledge:
            return confirming.effect(cause, knowledge)

    @over_a_sound_index
    def _first_test(self, state: OpenJob) -> Test | None:
        """The test with whose outcome the job began."""
        if not state.outcomes:
            return None
        with self.shop.knowing() as knowledge:
            return named_test(state.outcomes[0].test, knowledge.entry)


def so_far(state: OpenJob) -> SoFar:
    """What was done on a job, as the advice takes it."""
    return SoFar(
        failed=tuple(failed.fix for failed in state.failed_fixes), skipped=state.skipped
    )
