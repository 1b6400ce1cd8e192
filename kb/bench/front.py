"""The front door: search, next step, confirm, review, show and save. Knows nothing of the web or the command line."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from kb.base.clock import Clock, utc_now
from kb.base.trouble import NotThere, Refusal
from kb.bench.settings import Settings, SettingsFile
from kb.bench.zone import shop_zone
from kb.diagnosis import advice, answering
from kb.diagnosis import causes as diagnosis
from kb.diagnosis import counts as tally
from kb.diagnosis.causes import Counts
from kb.diagnosis.counts import ALIKE, Ageing
from kb.history import History, intake, kinds
from kb.history.jobs import OpenJob, job_of
from kb.history.trouble import ClockDoubt, HistoryTrouble
from kb.index import refresh
from kb.index.connections import OpenFiles, over_a_sound_index
from kb.index.index import Index
from kb.language import named, words
from kb.language.nearest import nearest
from kb.library import gates, shelf
from kb.model import Answer, Confirmation, Entry, EntryBelief, Finding, Job, Remark, Test, told_of_unread

if TYPE_CHECKING:  # and where they are asked for: a search at the terminal need not wait for them
    from kb.history.copies.register import BackedUp
    from kb.history.dates import Misdated
    from kb.library import album
    from kb.library.tools import Tool
    from kb.review.catalogue import Catalogue
    from kb.review.failures import Review
    from kb.review.overview import Overview

Found = TypeVar("Found")

#: So often the index is compared with a history in which others save meanwhile.
LOOKS = 3
#: So many entries at most are taken in before anybody asks for them.
MOST_WARMED = 500


@dataclass(frozen=True, slots=True)
class Receipt:
    """What was saved, and what it changed."""

    job: str
    cause: str
    model: str
    effect: str


class Untested(Refusal):
    """A cause is not confirmed before the tests that its fix comes after, unless one says that one knows it."""

    def __init__(self, cause: str, tests: Sequence[Test]) -> None:
        self.tests = tuple(test.title for test in tests)
        what = " and ".join(f"“{title}”" for title in self.tests)
        super().__init__(f"nothing is on record of {what}, without which `{cause}` is a guess")


@dataclass(frozen=True, slots=True)
class Look:
    """An answer with the entries of its next step and of its first picture; `named`: the model that its words name."""

    answer: Answer
    named: str
    entries: Mapping[str, Entry]


@dataclass(frozen=True, slots=True)
class Standing:
    """A job with its answer as of now, and its minutes on the bench, if believable."""

    job: OpenJob
    answer: Answer
    minutes: float | None


@dataclass(frozen=True, slots=True)
class Sheet:
    """An entry with what the history says of it, where its text stands and what was remarked on it.

    If the shop's own text is `unread`, since nothing in it can be served, the entry is that of the stock.
    """

    entry: Entry
    belief: EntryBelief
    own: bool
    text: str
    remarks: tuple[Remark, ...]
    unread: bool = False


@dataclass(frozen=True, slots=True)
class State:
    """How the shop's memory stands beside the history itself."""

    entries: int
    remarks: int
    in_step: bool
    problems: tuple[str, ...]


class Bench:
    """A shop's bench over its folder; safe to be used from several threads, each with its own connections."""

    def __init__(self, shop: Path, stock: Path | None = None, clock: Clock = utc_now) -> None:
        self.shop = shop
        self.clock = clock
        self.shelf = shelf.Shelf(stock or shelf.stock_folder(), shop / "entries")
        self.files = OpenFiles(shop, self.shelf, (words.stock_words(), shop / "words.toml"), clock)
        self.zone = shop_zone(shop, os.environ)
        self.kept_settings = SettingsFile(shop)

    # Search

    @over_a_sound_index
    def search(
        self,
        text: str,
        model: str = "",
        findings: Sequence[Finding] = (),
        limit: int = 5,
        unfinished: bool = False,
        at: advice.Bench = advice.UNTOUCHED,
    ) -> Answer:
        """The ranked answer to a complaint, with the belief after the findings and the next step.

        `unfinished` says that the last word is still being typed; `at` what was done and what the bench lacks,
        which is what the shop lacks unless it is said.
        """
        at = replace(at, lacks=self.settings().lacks) if at.lacks is None else at
        with self.files.reading() as (index, lexicon):
            return answering.answer(index, lexicon, text, model, findings, limit, unfinished, at, self._ageing())

    @over_a_sound_index
    def look(self, text: str, model: str = "", unfinished: bool = False) -> Look:
        """The answer to a complaint as a page shows it; a model that the words name counts more than `model`."""
        at = replace(advice.UNTOUCHED, lacks=self.settings().lacks)
        with self.files.reading() as (index, lexicon):
            told = named.model_in(text, answering.known_models(index))
            answer = answering.answer(index, lexicon, text, told or model, (), 5, unfinished, at, self._ageing())
            slugs = [one.entry for one in answer.entries[:1]] + [answer.next_step.entry if answer.next_step else ""]
            entries = {slug: entry for slug in slugs if (entry := index.entry(slug))}
        return Look(answer, told, entries)

    def warm(self) -> None:
        """Take in what searches compare with, entry by entry, so that the first ones are as quick as later ones.

        For a thread of its own, whose files are let go at the end. A large library is left to its searches.
        """
        try:
            with self.files.reading() as (index, _):
                slugs = list(index.slugs().values())
            for slug in slugs if len(slugs) <= MOST_WARMED else ():
                with self.files.reading() as (index, lexicon):
                    if entry := index.entry(slug):
                        answering.heard(index, lexicon, entry)
        except (sqlite3.Error, HistoryTrouble, OSError):  # whoever searches is told what is wrong
            pass
        finally:
            self.files.close()

    # Entries

    @over_a_sound_index
    def entry(self, slug: str, model: str = "") -> Sheet | None:
        """The sheet of an entry with the history beside each cause, or None."""
        kept = self.shelf.sheet(slug)
        with self.files.reading() as (index, _):
            entry = index.entry(slug)
            if entry is None or kept is None:
                return None
            counts = answering.entry_counts(index, model, self._ageing())
            causes = answering.cause_counts(index, slug, model, self._ageing())
            alone = diagnosis.diagnose(
                {slug: 50.0}, Counts(), index.entry, lambda _: diagnosis.cause_shares(entry, causes)
            )
            belief = diagnosis.entry_belief(alone, entry, causes, counts, ())
        return Sheet(entry, belief, kept.own, kept.text, kept.parsed.remarks, unread=kept.unread)

    @over_a_sound_index
    def entries(self) -> list[tuple[Entry, int]]:
        """Every entry with the number of its confirmed jobs, by area and title."""
        with self.files.reading() as (index, _):
            counts = tally.confirmed(index.connection, "").entries.told.elsewhere
            found = [entry for slug in index.slugs().values() if (entry := index.entry(slug))]
        return sorted(((e, int(counts.get(e.slug, 0))) for e in found), key=lambda pair: (pair[0].area, pair[0].title))

    @over_a_sound_index
    def catalogue(self) -> Catalogue:
        """Every file of the shelf with whose it is, its confirmed jobs, and all that is to mend."""
        from kb.review.catalogue import catalogue

        with self.files.reading() as (index, _):
            return index.remembered("catalogue", lambda: catalogue(index))

    @over_a_sound_index
    def read(self, slug: str) -> Entry | None:
        """The entry of that slug alone, without its history, or None."""
        with self.files.reading() as (index, _):
            return index.entry(slug)

    @over_a_sound_index
    def cause_texts(self, causes: Sequence[str]) -> dict[str, str]:
        """What each cause (`entry/cause`) says in its entry; one whose entry is gone is told by its name."""
        with self.files.reading() as (index, _):
            told = {}
            for name in causes:
                slug, _, cause = name.partition("/")
                entry = index.entry(slug)
                found = entry.cause(cause) if entry else None
                told[name] = found.text if found else name
            return told

    @over_a_sound_index
    def models(self) -> list[str]:
        """The models in the history, most frequent first."""
        with self.files.reading() as (index, _):
            return tally.models(index.connection)

    @over_a_sound_index
    def left_out(self) -> tuple[str, ...]:
        """Which of the shop's own words and entries cannot be read, so that answers do without: a sentence each."""
        with self.files.reading() as (index, _):
            return tuple(filter(None, _left_out(index)))

    def check(self, paths: Sequence[Path] = ()) -> list[Remark]:
        """Every problem in the given files, or in all entries this shop sees, by file and line."""
        from kb.library import checks

        files = [file for path in paths for file in (sorted(path.glob("*.md")) if path.is_dir() else [path])]
        sheets = [shelf.read_sheet(file, own=True) for file in files] if paths else list(self.shelf.sheets())
        remarks = [remark for sheet in sheets for remark in sheet.parsed.remarks]
        entries = [sheet.entry for sheet in sheets if sheet.entry]
        remarks += [remark for sheet in sheets if sheet.parsed.entry for remark in checks.inspect(sheet.parsed.entry)]
        if not paths:
            remarks += checks.inspect_library(entries)
        return sorted(remarks, key=lambda remark: (remark.file, remark.line, remark.problem))

    def save_entry(self, slug: str, text: str, base: str) -> Path:
        """Save the shop's text of an entry; raises shelf.EntryChanged, or Refusal for what cannot be an entry."""
        return self.shelf.save(slug, text, base)

    def text(self, slug: str) -> shelf.Sheet | None:
        """The file of an entry as it stands now, even one that holds nothing to serve, or None."""
        return self.shelf.sheet(slug)

    def stock_text(self, slug: str) -> str:
        """The text of an entry that ships with the program, empty if it is the shop's alone."""
        return self.shelf.stock_text(slug)

    def put_entry_away(self, slug: str, base: str) -> Path:
        """Move the shop's text of an entry aside and give where it is kept; a stock text counts again.

        Raises shelf.EntryChanged if another text than `base` stands there, NotThere if the shop has none of its own,
        shelf.NotSaved if the disk does not do it.
        """
        return self.shelf.put_away(slug, base, self.clock().date().isoformat())

    def album(self) -> album.Album:
        """The pictures beside the shop's entries."""
        from kb.library import album

        return album.Album(self.shelf)

    # Jobs

    def confirm(
        self, given: Confirmation, token: str = "", untested: bool = False, clock_is_right: bool = False
    ) -> Receipt:
        """Record that on a job it was this cause; the same token again saves nothing new.

        `untested` says that one knows it without the tests that its fix comes after. Raises NotThere for a cause
        that no entry lists, Untested if such a test is not on record, ClockDoubt if the clock that gives the date looks
        wrong and nobody says that it is right, and what the history raises.
        """
        self._known_cause(given.cause)
        if not untested and (missing := self.untested(given.cause, given.job, given.outcomes)):
            raise Untested(given.cause, missing)
        if not (clock_is_right or given.closed_at) and (doubt := self.history().clock_warning()):
            raise ClockDoubt(f"{doubt}; nothing was saved")
        record = self.history().close_job(given, token)
        job = job_of(record) if record.kind == "close" else self.history().job_state(record.job).closed
        assert job is not None
        try:
            effect = self._effect(job.cause, job.model)
        except sqlite3.Error:  # it is saved, whatever became of the index
            effect = "the counts follow once the index can be written"
        return Receipt(record.job, job.cause, job.model, effect)

    def untested(self, cause: str, job: str = "", outcomes: Sequence[Finding] = ()) -> tuple[Test, ...]:
        """The tests that the fix of a cause comes after and that showed nothing on the job; raises UnknownJob."""
        slug, _, own = cause.partition("/")
        entry = self.read(slug)
        if entry is None or not gates.untested(entry, own, ()):
            return ()
        shown = (*outcomes, *(self.job(job).outcomes if job else ()))
        names = [name for of, _, name in (one.test.partition("/") for one in shown) if of == slug]
        return gates.untested(entry, own, names)

    def retract(self, job: str, why: str, by: str = "", token: str = "") -> str:
        """Declare a closed job wrong; the numbers follow at once. Gives the full id of the job."""
        return self.history().retract(job, why, by, token).job

    def job(self, job: str) -> OpenJob:
        """The job of that id as it stands; raises UnknownJob."""
        return self.history().job_state(job)

    def receipt(self, job: str) -> Receipt | None:
        """What was saved for a closed job and what that means by now; None for a job still open. Raises UnknownJob."""
        closed = self.job(job).closed
        return Receipt(job, closed.cause, closed.model, self._effect(closed.cause, closed.model)) if closed else None

    def begin(self, words: str, model: str = "", unit: str = "", token: str = "") -> str:
        """The id of a new open job; the model may stay empty until the job is confirmed."""
        return self.history().open_job(model, unit, words, token)

    def found(self, job: str, finding: Finding, token: str = "") -> None:
        """Note on an open job what a test showed."""
        self.history().note(kinds.FINDING, job, {"test": finding.test, "outcome": finding.outcome}, token)

    def did_not_help(self, job: str, fix: str, token: str = "") -> None:
        """Note on an open job a fix that changed nothing, by the name of a cause it cures (`entry/cause`)."""
        self.history().note(kinds.FAILED_FIX, job, {"fix": fix}, token)

    def could_not_do(self, job: str, test: str, skip: bool = True, token: str = "") -> None:
        """Set a test (`entry/test`) aside on this job, or with `skip` false put it back."""
        self.history().note(kinds.SKIP, job, {"test": test, "skip": skip}, token)

    def take_back(self, job: str, record: str, token: str = "") -> None:
        """Undo a finding or a failed fix of an open job, by the id of its record."""
        self.history().take_back(job, record, token)

    def open_jobs(self) -> tuple[OpenJob, ...]:
        """The jobs on the bench, latest first; none while the history cannot be used (`warnings` says so)."""
        return self._if_usable(lambda history: tuple(reversed(history.open_jobs())), ())

    def last_saved(self, count: int, first: str = "") -> tuple[Job, ...]:
        """The jobs confirmed last in this shop, latest first, before them the one of the id `first` if it counts.

        Empty while the history cannot be used (`warnings` says so).
        """

        def latest(history: History) -> tuple[Job, ...]:
            jobs = history.last_closed(count)
            own = history.find_job(first)
            if own and own.closed and not own.retracted:
                jobs = (own.closed, *(job for job in jobs if job.job != own.job))
            return jobs[:count]

        return self._if_usable(latest, ())

    def _if_usable(self, ask: Callable[[History], Found], otherwise: Found) -> Found:
        """What the history answers, or the other thing while it cannot be used."""
        try:
            history = self.files.usable_history()
            return ask(history) if history else otherwise
        except HistoryTrouble as trouble:
            self.files.leave_alone(trouble)
            return otherwise

    def standing(self, job: str, limit: int = 5) -> Standing:
        """A job as it stands, with the answer to its words after all that was found; raises UnknownJob."""
        state = self.job(job)
        at = advice.Bench(failed=tuple(failed.fix for failed in state.failed_fixes), skipped=state.skipped)
        answer = self.search(state.words, state.model, state.outcomes, limit, at=at)
        return Standing(state, answer, self._bench_minutes(state))

    def take_up_again(self, job: str, token: str = "") -> str:
        """The id of a new open job with the words, machine and findings of one that was closed or retracted."""
        old = self.job(job)
        findings = old.closed.outcomes if old.closed else old.outcomes
        history = self.history()
        with history.together():
            new = history.open_job(old.model, old.unit, old.words, token)
            for number, finding in enumerate(findings):
                body = {"test": finding.test, "outcome": finding.outcome}
                history.note(kinds.FINDING, new, body, token and f"{token}-{number}")
        return new

    def _bench_minutes(self, state: OpenJob) -> float | None:
        """Whole minutes on the bench: since the job was opened, and the first test, done before it was.

        None when the clock cannot tell (backwards, or over eight hours).
        """
        if not state.opened_at:
            return None
        minutes = (self.clock() - datetime.fromisoformat(state.opened_at)).total_seconds() / 60
        slug, _, name = state.outcomes[0].test.partition("/") if state.outcomes else ("", "", "")
        entry = self.read(slug) if slug else None
        first = entry.test(name) if entry else None
        return float(round(minutes + (first.minutes if first else 0.0))) if 0 <= minutes <= 480 else None

    @over_a_sound_index
    def _known_cause(self, cause: str) -> None:
        slug, _, name = intake.clean(cause).partition("/")
        with self.files.reading() as (index, _):
            entry = index.entry(slug)
            if entry is None:
                near = nearest(slug, list(index.slugs().values()))
                raise NotThere(
                    f"there is no entry `{slug[:60]}`"
                    + (f"; did you mean `{near}`?" if near else "; see `benchlore search`")
                )
            if entry.cause(name) is None:
                listed = ", ".join(f"{slug}/{one.slug}" for one in entry.causes)
                raise NotThere(f"`{slug}` does not list the cause `{name[:60]}`; use one of {listed}")

    @over_a_sound_index
    def _effect(self, cause: str, model: str) -> str:
        """In one sentence what a confirmation changed."""
        slug, _, name = cause.partition("/")
        with self.files.reading() as (index, _):
            entry = index.entry(slug)
            counts = answering.cause_counts(index, slug, model, self._ageing())
            if entry is None or entry.cause(name) is None:  # renamed or removed since, or taken in from another shop
                return f"no entry here lists {cause}; the job counts under that name"
            shares = diagnosis.cause_shares(entry, counts)
        place = sorted((c.slug for c in entry.causes), key=lambda c: (-shares[c], c)).index(name) + 1
        here, whole = int(counts.told.here.get(name, 0)), int(sum(counts.told.here.values()))
        where = "first" if place == 1 else f"number {place} of {len(entry.causes)}"
        return f"this cause is now {where} on {model}: {here} of {whole} here"

    # Settings

    def settings(self) -> Settings:
        """What the shop sets for itself, as its file says now."""
        return self.kept_settings.now()

    @over_a_sound_index
    def tools(self) -> tuple[Tool, ...]:
        """The tools and parts that tests and fixes need or the shop lacks, most tests first."""
        from kb.library.tools import tools

        with self.files.reading() as (index, _):
            entries = [entry for slug in index.slugs().values() if (entry := index.entry(slug))]
        return tools(entries, self.settings().lacks)

    def change_tools(self, lack: Sequence[str] = (), have: Sequence[str] = ()) -> None:
        """Note tools or parts as lacking, or as there; raises settings.UnknownTool and settings.SettingsTrouble."""
        self.kept_settings.change_tools(lack, have)

    def set_half_life(self, days: float) -> None:
        """Let old jobs count half after so many days, 0 for never; raises Refusal and settings.SettingsTrouble."""
        self.kept_settings.set_half_life(days)

    def _ageing(self) -> Ageing:
        """How old jobs weigh today."""
        days = self.settings().half_life_days
        return Ageing(days, self.clock().astimezone(UTC).date()) if days else ALIKE

    # Review

    def review(self, model: str = "", since: str = "", until: str = "") -> Review:
        """The most frequent failures of a model, or of all; ValueError for a `since` or `until` that is no day."""
        return self.overview(model, since, until).review

    @over_a_sound_index
    def overview(self, model: str = "", since: str = "", until: str = "") -> Overview:
        """The review with trend, parts to keep, models compared and gaps; ValueError for what is no day."""
        from kb.review.overview import overview
        from kb.review.period import Period

        period = Period(since, until, self.zone.zone)
        now = None if self.clock_doubt() else self.clock()
        with self.files.reading() as (index, _):
            entries = [entry for slug in index.slugs().values() if (entry := index.entry(slug))]
            return overview(index.connection, self.files.usable_history(), entries, model, period, now=now)

    def nothing_fits(self, text: str, model: str = "", job: str = "", token: str = "") -> None:
        """Write down that nothing here fits these words; the same token again writes nothing."""
        from kb.review import gaps

        gaps.say_nothing_fits(self.history(), text, model, job, token)

    @over_a_sound_index
    def state(self) -> State:
        """Entries served, remarks on them, index in step, and what is wrong."""
        with self.files.reading() as (index, _):
            served, remarks = len(index.slugs()), len(index.remarks())
            damage, words_left_out, unread = index.damage(), index.about("words trouble"), index.unread()
        strayed = self._strayed()
        problems = [words_left_out] if words_left_out else []
        problems += map(str, unread)
        problems += [f"the index is damaged ({damage}); delete index.db, it is made anew"] if damage else []
        if strayed:
            problems.append(
                f"the index does not hold job {strayed} as the history does, so that figures are wrong; "
                "delete index.db, it is made anew"
            )
        problems += [problem for problem in (self.zone.problem, self.settings().problem) if problem]
        problems += [] if served else ["no entry can be served; see `benchlore check`"]
        return State(served, remarks, strayed == "", tuple(problems))

    def _strayed(self) -> str | None:
        """The first job that the index does not hold as the history does, empty if none; None without a history.

        What others save meanwhile is no stray: the index is brought up to date and looked at again.
        """

        def first(history: History) -> str:
            found = ""
            for _ in range(LOOKS):
                with self.files.reading() as (index, _):
                    found = refresh.strayed(index, history)
                    if not found or refresh.is_abreast(index, history):
                        break
            return found

        return self._if_usable(first, None)

    def clock_doubt(self) -> str:
        """In words why the clock looks wrong; empty if it does not, or while the history cannot be used."""
        return self._if_usable(lambda history: history.clock_warning(), "")

    def warnings(self) -> tuple[str, ...]:
        """What people should know while they go on working, a sentence each.

        A history that cannot be used (as this thread last saw it; entries are searched all the same), a clock
        that cannot be right, entries, words or settings of the shop's own that cannot be read.
        """
        told = [self.files.trouble(), self.settings().problem]
        try:
            history = None if self.files.trouble() else self.files.usable_history()
            told.append(history.clock_warning() if history else "")
            told += _left_out(self.files.index())
        except HistoryTrouble as trouble:
            self.files.leave_alone(trouble)
        except sqlite3.Error:
            pass  # the index is derived; the next question makes it anew
        return tuple(dict.fromkeys(warning for warning in told if warning))

    def misdated(self) -> Misdated:
        """The records with a date that cannot be right; none while the history cannot be used."""
        from kb.history.dates import Misdated, misdated

        doubted = bool(self.clock_doubt())
        return self._if_usable(lambda history: misdated(history, self.clock(), doubted), Misdated())

    def backed_up(self, thorough: bool = False) -> BackedUp:
        """How far the history is in the backups known of; while it cannot be used, which backups there are.

        With `thorough` those that count are read whole.
        """
        from kb.history.copies.register import backed_up

        now = self.clock()
        found = self._if_usable(lambda history: backed_up(history, self.shop, now, thorough), None)
        return found or backed_up(None, self.shop, now, thorough)

    def trouble(self) -> str:
        """Why this thread could not use the history when it last read, empty if it could."""
        return self.files.trouble()

    def history(self) -> History:
        """The history, opened for this thread; made by the first call that needs one."""
        return self.files.history()

    def close(self) -> None:
        """Let this thread's files go."""
        self.files.close()


def _left_out(index: Index) -> tuple[str, str]:
    """What is said of own words and of own entries that cannot be read; empty where they can."""
    return index.about("words trouble"), told_of_unread(index.unread())
