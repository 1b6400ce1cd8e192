"""The front door: search, next step, confirm, review, show and save. Knows nothing of the web or the command line."""

from __future__ import annotations

import functools
import json
import os
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Concatenate, ParamSpec, TypeVar

from kb import advice, checks, diagnosis, fit, gaps, matching, review, shelf, tally, upkeep, words
from kb.belief import learned
from kb.catalogue import Catalogue, catalogue
from kb.diagnosis import Counts
from kb.history import History
from kb.history.clock import Clock, utc_now
from kb.history.jobs import Confirmation, OpenJob, job_of
from kb.history.trouble import HistoryBusy, HistoryTrouble, newest_backup
from kb.index import Index, is_damage
from kb.model import Answer, Entry, EntryBelief, Finding, Remark, Test
from kb.overview import Overview, overview
from kb.period import Period
from kb.words import Lexicon
from kb.zone import shop_zone

if TYPE_CHECKING:
    from kb import pictures

#: The kind of record that sets a test aside on one job.
SKIP = "skip"
#: How many of the best fitting entries are looked at closely.
LOOKED_AT = 12
#: Seconds for which a history that was busy or broke while it was read is not asked again, and a full disk neither.
LEAVE, LEAVE_DISK = 2.0, 60.0

Given = ParamSpec("Given")
Found = TypeVar("Found")


def _over_a_sound_index(
    ask: Callable[Concatenate[Bench, Given], Found],
) -> Callable[Concatenate[Bench, Given], Found]:
    """The question, asked once more over a new index if it stumbles over one that is damaged."""

    @functools.wraps(ask)
    def asked(bench: Bench, /, *given: Given.args, **named: Given.kwargs) -> Found:
        try:
            return ask(bench, *given, **named)
        except (sqlite3.DatabaseError, json.JSONDecodeError) as error:
            if not is_damage(error):
                raise
            bench.discard_index()
            return ask(bench, *given, **named)

    return asked


@dataclass(frozen=True, slots=True)
class Receipt:
    """What was saved, and what it changed."""

    job: str
    cause: str
    model: str
    effect: str


@dataclass(frozen=True, slots=True)
class Standing:
    """A job with its answer as of now: `skipped` tests could not be done; `minutes` on the bench, if believable."""

    job: OpenJob
    skipped: tuple[str, ...]
    answer: Answer
    minutes: float | None


@dataclass(frozen=True, slots=True)
class Sheet:
    """An entry with what the history says of it, where its text stands and what was remarked on it."""

    entry: Entry
    belief: EntryBelief
    own: bool
    text: str
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True)
class State:
    """How the shop's memory stands beside the history itself."""

    entries: int
    remarks: int
    in_step: bool
    last_backup: str
    problems: tuple[str, ...]


class Bench:
    """A shop's bench over its folder; safe to be used from several threads, each with its own connections."""

    def __init__(self, shop: Path, stock: Path | None = None, clock: Clock = utc_now) -> None:
        self.shop = shop
        self.clock = clock
        self.shelf = shelf.Shelf(stock or shelf.stock_folder(), shop / "entries")
        self._word_files = (words.stock_words(), shop / "words.toml")
        self._held = threading.local()
        self.zone = shop_zone(shop, os.environ)

    # Search

    @_over_a_sound_index
    def search(
        self,
        text: str,
        model: str = "",
        findings: Sequence[Finding] = (),
        limit: int = 5,
        unfinished: bool = False,
        at: advice.Bench = advice.Bench(),
    ) -> Answer:
        """The ranked answer to a complaint, with the belief after the findings and the next step."""
        started = time.perf_counter()
        with self._reading() as (index, lexicon):
            models = index.remembered("models", lambda: tally.models(index.connection))
            model = model or matching.model_in(text, models)
            plain = matching.without(text, model)
            tested = tuple(finding.test.partition("/")[0] for finding in findings)
            slugs = index.slugs()
            found = fit.fit(plain, lexicon, index, unfinished, [n for n, slug in slugs.items() if slug in tested])
            scores = {slugs[number]: score for number, score in found.scores.items() if number in slugs}
            counts = self._entry_counts(index, model)
            known = diagnosis.diagnose(
                scores if found.known_words else {}, counts, index.entry,
                lambda slug: self._cause_counts(index, slug, model),
                findings, lambda entry, test: self._trusted(index, entry, test), tested, found.others,
            )  # fmt: skip
            complaint = matching.said(matching.read_text(plain, found.corrections), lexicon)
            telling = matching.weights(complaint, index.postings(matching.signed_terms(complaint)))
            order = sorted(
                {c.entry for c in known.candidates if c.entry}, key=lambda slug: (-known.of_entry(slug), slug)
            )
            entries = []
            for slug in order[: max(limit, 1)]:
                entry = index.entry(slug)
                if entry is None:
                    continue
                matched = matching.closest(complaint, telling, self._heard(index, lexicon, entry))
                causes = self._cause_counts(index, slug, model)
                texts, marked = tuple(one.text for one in matched), matching.marked(complaint, matched)
                entries.append(diagnosis.entry_belief(known, entry, causes, counts, texts, marked))
            given = replace(at, findings=tuple(findings))
            advised = advice.advise(known, index.entry, given, lambda entry, test: self._trusted(index, entry, test))
        return Answer(
            text, model, tuple(entries), known.something_else,
            tuple((c.typed, c.read_as) for c in found.corrections), advised.step, advised.test, advised.undivided,
            (time.perf_counter() - started) * 1000.0,
        )  # fmt: skip

    def _heard(self, index: Index, lexicon: Lexicon, entry: Entry) -> list[matching.Said]:
        """What an entry's own texts and the complaints it was confirmed under tell of."""

        def read() -> list[matching.Said]:
            spoken = [one.text for one in index.spoken(entry.slug)]
            texts = (*entry.wordings, *entry.symptoms, entry.title, *spoken)
            return [matching.said(text, lexicon) for text in texts]

        return index.remembered(("heard", entry.slug), read)

    def _entry_counts(self, index: Index, model: str) -> Counts:
        return index.remembered(("entries", model.casefold()), lambda: tally.of_entries(index.connection, model))

    def _cause_counts(self, index: Index, slug: str, model: str) -> Counts:
        return index.remembered(
            ("causes", slug, model.casefold()), lambda: tally.of_causes(index.connection, slug, model)
        )

    def _trusted(self, index: Index, entry: Entry, test: Test) -> Test:
        """The test with the reliability that its past outcomes taught."""
        records = index.remembered(("tests", entry.slug), lambda: tally.of_tests(index.connection, entry))
        record = records.get(test.slug)
        if record is None:
            return test
        return replace(test, reliability=learned(test.reliability, record.right, record.wrong))

    # Entries

    @_over_a_sound_index
    def entry(self, slug: str, model: str = "") -> Sheet | None:
        """The sheet of an entry with the history beside each cause, or None."""
        kept = self.shelf.sheet(slug)
        with self._reading() as (index, _):
            entry = index.entry(slug)
            if entry is None or kept is None:
                return None
            counts = self._entry_counts(index, model)
            causes = self._cause_counts(index, slug, model)
            alone = diagnosis.diagnose({slug: 50.0}, Counts(), index.entry, lambda _: causes)
            belief = diagnosis.entry_belief(alone, entry, causes, counts, ())
        return Sheet(entry, belief, kept.own, kept.text, kept.parsed.remarks)

    @_over_a_sound_index
    def entries(self) -> list[tuple[Entry, int]]:
        """Every entry with the number of its confirmed jobs, by area and title."""
        with self._reading() as (index, _):
            counts = tally.of_entries(index.connection, "").elsewhere
            found = [entry for slug in index.slugs().values() if (entry := index.entry(slug))]
        return sorted(((e, int(counts.get(e.slug, 0))) for e in found), key=lambda pair: (pair[0].area, pair[0].title))

    @_over_a_sound_index
    def catalogue(self) -> Catalogue:
        """Every file of the shelf with whose it is, its confirmed jobs, and all that is to mend."""
        with self._reading() as (index, _):
            return index.remembered("catalogue", lambda: catalogue(index))

    @_over_a_sound_index
    def read(self, slug: str) -> Entry | None:
        """The entry of that slug alone, without its history, or None."""
        with self._reading() as (index, _):
            return index.entry(slug)

    @_over_a_sound_index
    def models(self) -> list[str]:
        """The models in the history, most frequent first."""
        with self._reading() as (index, _):
            return tally.models(index.connection)

    def model_named(self, text: str) -> str:
        """The model of the history that a complaint names, empty if it names none."""
        return matching.model_in(text, self.models())

    def check(self, paths: Sequence[Path] = ()) -> list[Remark]:
        """Every problem in the given files, or in all entries this shop sees, by file and line."""
        files = [file for path in paths for file in (sorted(path.glob("*.md")) if path.is_dir() else [path])]
        sheets = [shelf.read_sheet(file, own=True) for file in files] if paths else list(self.shelf.sheets())
        remarks = [remark for sheet in sheets for remark in sheet.parsed.remarks]
        entries = [sheet.entry for sheet in sheets if sheet.entry]
        remarks += [remark for entry in entries for remark in checks.inspect(entry)]
        if not paths:
            remarks += checks.inspect_library(entries)
        return sorted(remarks, key=lambda remark: (remark.file, remark.line, remark.problem))

    def save_entry(self, slug: str, text: str, base: str) -> Path:
        """Save the shop's text of an entry; raises shelf.EntryChanged, or ValueError for what cannot be an entry."""
        return self.shelf.save(slug, text, base)

    def text(self, slug: str) -> shelf.Sheet | None:
        """The file of an entry as it stands now, even one that holds nothing to serve, or None."""
        return self.shelf.sheet(slug)

    def stock_text(self, slug: str) -> str:
        """The text of an entry that ships with the program, empty if it is the shop's alone."""
        return self.shelf.stock_text(slug)

    def take_stock_text(self, slug: str, base: str) -> Path:
        """Move the shop's text of an entry aside, so that the stock text counts again; gives where it is kept.

        Raises shelf.EntryChanged if another text than `base` stands there, LookupError if there is no stock text.
        """
        if not self.shelf.stock_text(slug):
            raise LookupError(f"there is no stock text of {slug[:60]}; it is this shop's alone")
        return self.shelf.put_away(slug, base, self.clock().date().isoformat())

    def album(self) -> pictures.Album:
        """The pictures beside the shop's entries."""
        from kb import pictures  # a search at the terminal need not wait for it

        return pictures.Album(self.shelf)

    # Jobs

    def confirm(self, given: Confirmation, token: str = "") -> Receipt:
        """Record that on a job it was this cause; the same token again saves nothing new.

        Raises LookupError for a cause that no entry lists, and what the history raises.
        """
        self._known_cause(given.cause)
        record = self.history().close_job(given, token)
        job = job_of(record) if record.kind == "close" else self.history().job_state(record.job).closed
        assert job is not None
        try:
            effect = self._effect(job.cause, job.model)
        except sqlite3.Error:  # it is saved, whatever became of the index
            effect = "the counts follow once the index can be written"
        return Receipt(record.job, job.cause, job.model, effect)

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
        self.history().add_finding(job, finding, token)

    def did_not_help(self, job: str, fix: str, token: str = "") -> None:
        """Note on an open job a fix that changed nothing, by the name of a cause it cures (`entry/cause`)."""
        self.history().add_failed_fix(job, fix, token)

    def could_not_do(self, job: str, test: str, skip: bool = True, token: str = "") -> None:
        """Set a test (`entry/test`) aside on this job, or with `skip` false put it back."""
        self.job(job)
        self.history().add_other(SKIP, job, {"test": test, "skip": skip}, token)

    def take_back(self, job: str, record: str, token: str = "") -> None:
        """Undo a finding or a failed fix of an open job, by the id of its record."""
        self.history().take_back(job, record, token)

    def open_jobs(self) -> tuple[OpenJob, ...]:
        """The jobs on the bench, latest first; none while the history cannot be used (`warnings` says so)."""
        try:
            history = self._usable_history()
            return tuple(reversed(history.open_jobs())) if history else ()
        except HistoryTrouble as trouble:
            self._leave_alone(trouble)
            return ()

    def standing(self, job: str, limit: int = 5) -> Standing:
        """A job as it stands, with the answer to its words after all that was found; raises UnknownJob."""
        state = self.job(job)
        skipped = self._skipped(job)
        at = advice.Bench(failed=tuple(failed.fix for failed in state.failed_fixes), skipped=skipped)
        answer = self.search(state.words, state.model, state.outcomes, limit, at=at)
        return Standing(state, skipped, answer, self._bench_minutes(state))

    def take_up_again(self, job: str, token: str = "") -> str:
        """The id of a new open job with the words, machine and findings of one that was closed or retracted."""
        old = self.job(job)
        findings = old.closed.outcomes if old.closed else old.outcomes
        history = self.history()
        with history.together():
            new = history.open_job(old.model, old.unit, old.words, token)
            for number, finding in enumerate(findings):
                history.add_finding(new, finding, token and f"{token}-{number}")
        return new

    def _skipped(self, job: str) -> tuple[str, ...]:
        """The tests set aside on a job; the last word on each counts."""
        told = [json.loads(record.body) for record in self.history().records_since(0, SKIP) if record.job == job]
        aside = {str(one.get("test", "")): bool(one.get("skip")) for one in told}
        return tuple(test for test, skip in aside.items() if skip)

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

    @_over_a_sound_index
    def _known_cause(self, cause: str) -> None:
        slug, _, name = cause.partition("/")
        with self._reading() as (index, _):
            entry = index.entry(slug)
            if entry is None:
                near = matching.nearest(slug, list(index.slugs().values()))
                raise LookupError(
                    f"there is no entry `{slug[:60]}`"
                    + (f"; did you mean `{near}`?" if near else "; see `benchlore search`")
                )
            if entry.cause(name) is None:
                listed = ", ".join(f"{slug}/{one.slug}" for one in entry.causes)
                raise LookupError(f"`{slug}` does not list the cause `{name[:60]}`; use one of {listed}")

    @_over_a_sound_index
    def _effect(self, cause: str, model: str) -> str:
        """In one sentence what a confirmation changed."""
        slug, _, name = cause.partition("/")
        with self._reading() as (index, _):
            entry = index.entry(slug)
            counts = self._cause_counts(index, slug, model)
            if entry is None:
                return ""
            shares = diagnosis.cause_shares(entry, counts)
        place = sorted((c.slug for c in entry.causes), key=lambda c: (-shares[c], c)).index(name) + 1
        here, whole = int(counts.here.get(name, 0)), int(sum(counts.here.values()))
        where = "first" if place == 1 else f"number {place} of {len(entry.causes)}"
        return f"{name} is now {where} on {model}: {here} of {whole} here"

    # Review

    def review(self, model: str = "", since: str = "", until: str = "") -> review.Review:
        """The most frequent failures of a model, or of all; ValueError for a `since` or `until` that is no day."""
        return self.overview(model, since, until).review

    @_over_a_sound_index
    def overview(self, model: str = "", since: str = "", until: str = "") -> Overview:
        """The review with trend, parts to keep, models compared and gaps; ValueError for what is no day."""
        period = Period(since, until, self.zone.zone)
        with self._reading() as (index, _):
            entries = [entry for slug in index.slugs().values() if (entry := index.entry(slug))]
            return overview(index.connection, self._usable_history(), entries, model, period)

    def nothing_fits(self, text: str, model: str = "", job: str = "", token: str = "") -> None:
        """Write down that nothing here fits these words; the same token again writes nothing."""
        gaps.say_nothing_fits(self.history(), text, model, job, token)

    @_over_a_sound_index
    def state(self) -> State:
        """Entries served, remarks on them, index in step, last backup, and what is wrong."""
        with self._reading() as (index, _):
            served, remarks = len(index.slugs()), len(index.remarks())
            jobs = index.connection.execute("SELECT count(*) FROM job WHERE retracted = ''").fetchone()[0]
            damage, words_left_out = index.damage(), index.about("words trouble")
        in_step = jobs == self._closed_jobs()
        kept = newest_backup(self.shop / "history.db")
        problems = [words_left_out] if words_left_out else []
        problems += [f"the index is damaged ({damage}); delete index.db, it is made anew"] if damage else []
        if not in_step and not self.trouble():
            problems.append("the index is out of step with the history; delete index.db, it is made anew")
        problems += [self.zone.problem] if self.zone.problem else []
        problems += [] if served else ["no entry can be served; see `benchlore check`"]
        return State(served, remarks, in_step, kept.name if kept else "", tuple(problems))

    def _closed_jobs(self) -> int | None:
        """How many closed jobs the history holds, None if it cannot be read."""
        try:
            history = self._usable_history()
            return sum(1 for _ in history.closed_jobs()) if history else None
        except HistoryTrouble as trouble:
            self._leave_alone(trouble)
            return None

    def warnings(self) -> tuple[str, ...]:
        """What people should know while they go on working, a sentence each.

        A history that cannot be used (as this thread last saw it; entries are searched all the same), a clock
        that cannot be right, words of the shop's own that cannot be read.
        """
        told = [self.trouble()]
        try:
            history = None if self.trouble() else self._usable_history()
            told.append(history.clock_warning() if history else "")
            told.append(self._index().about("words trouble"))
        except HistoryTrouble as trouble:
            self._leave_alone(trouble)
        except sqlite3.Error:
            pass  # the index is derived; the next question makes it anew
        return tuple(dict.fromkeys(warning for warning in told if warning))

    def trouble(self) -> str:
        """Why this thread could not use the history when it last read, empty if it could."""
        return getattr(self._held, "trouble", "")

    # Connections of this thread

    def history(self) -> History:
        """This thread's history; made by the first call that needs one, opened again when it was put back."""
        held: History | None = getattr(self._held, "history", None)
        if held is not None and not held.stands():
            held.close()
            del self._held.history
        if not hasattr(self._held, "history"):
            self._held.history = History.open(self.shop / "history.db", clock=self.clock)
        return self._held.history  # type: ignore[no-any-return]

    def _usable_history(self) -> History | None:
        """This thread's history, None while it cannot be used."""
        if time.monotonic() < getattr(self._held, "leave_until", 0.0):
            return None
        try:
            return self.history()
        except HistoryTrouble as trouble:
            self._held.trouble = str(trouble)
            if isinstance(trouble, HistoryBusy):
                self._leave_alone(trouble)
            return None

    def _leave_alone(self, trouble: HistoryTrouble) -> None:
        """Read without the history for a while, so that nobody waits for it again and again."""
        self._held.trouble = str(trouble)
        self._held.leave_until = time.monotonic() + LEAVE

    @contextmanager
    def _reading(self) -> Iterator[tuple[Index, Lexicon]]:
        """This thread's index, up to date, all reads seeing one state.

        Without a usable history the index holds the jobs as they were last taken in, if it held any.
        """
        try:
            lexicon = self._refreshed()
        except sqlite3.OperationalError as error:
            if is_damage(error):
                raise
            self._close_index()  # no room for it on the disk, or it is held for very long
            self._held.index, self._held.file_again = Index(None), time.monotonic() + LEAVE_DISK
            lexicon = self._refreshed()
        index = self._index()
        with index.reading():
            yield index, lexicon

    def _refreshed(self) -> Lexicon:
        history = self._usable_history()
        if history is not None:
            try:
                lexicon = upkeep.refresh(self._index(), self.shelf, history, self._word_files)
                self._held.trouble = ""
                return lexicon
            except HistoryTrouble as trouble:
                self._leave_alone(trouble)
        return upkeep.refresh(self._index(), self.shelf, None, self._word_files)

    def _index(self) -> Index:
        """This thread's index; opened again if its file was removed, or from time to time if it is in memory."""
        held: Index | None = getattr(self._held, "index", None)
        if held is not None and held.path is None and time.monotonic() > getattr(self._held, "file_again", 0.0):
            self._held.file_again = time.monotonic() + LEAVE_DISK
            fresh = Index(self.shop / "index.db")
            if fresh.path is not None:
                self._close_index()
                self._held.index = fresh
            else:
                fresh.close()
        elif held is None or not held.stands():
            self._close_index()
            self._held.index = Index(self.shop / "index.db")
            self._held.file_again = time.monotonic() + LEAVE_DISK
        return self._held.index  # type: ignore[no-any-return]

    def discard_index(self) -> None:
        """Remove the index, in which something is wrong; the next question makes it anew."""
        if hasattr(self._held, "index"):
            self._held.index.discard()
            del self._held.index

    def _close_index(self) -> None:
        if hasattr(self._held, "index"):
            self._held.index.close()
            del self._held.index

    def close(self) -> None:
        """Let this thread's files go."""
        self._close_index()
        if hasattr(self._held, "history"):
            self._held.history.close()
            del self._held.history
