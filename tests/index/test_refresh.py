"""Whatever happened to a shop, its figures are those of a copy of it whose index is made anew."""

from __future__ import annotations

import itertools
import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from helpers.histories import import_jobs
from helpers.long import LONG
from helpers.places import CORPUS
from helpers.shops import quick_folder
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.base import pooling
from kb.base.trouble import NotThere, Refusal
from kb.bench.front import Bench
from kb.history import History, exchange, kinds
from kb.history.copies.backup import backup, restore
from kb.history.record import Record
from kb.index import refresh, taught
from kb.index.index import Index
from kb.index.jobs import ClosedJob, JobTable
from kb.index.remembered import Kept, Remembered
from kb.model import Confirmation, Finding, Job

NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)
MODELS = ("Tern 13", "Skua 14")
CAUSES = (
    "no-battery/pack",
    "no-battery/plug",
    "keys-dead/ribbon",
    "charges-no-start/button",
    "gone-entry/gone-cause",
)
#: Words of entries, words of the shop's own, each as written and with slips, words said of everything, none.
WORDS = (
    "batt missing",
    "baterry missing",
    "wibbles like a jellyfish",
    "wibles like jelyfish",
    "glimmer gone",
    "dead",
    "",
)
ASKED = (
    ("batt missing", "Tern 13"),
    ("jelyfish wibles", ""),
    ("glimmer", "Skua 14"),
    ("dead", ""),
    ("wibbles", "Tern 13"),
)
SLANG = '[same]\nbattery = ["glimmer"]\n'


@pytest.fixture(scope="module", autouse=True)
def _taught_early_and_by_portions() -> Iterator[None]:
    """Here few jobs teach already how much models have in common, and few records are taken in at once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(refresh, "PORTION", 3)
        patch.setattr(pooling, "FEWEST_GROUPS", 2)
        patch.setattr(taught, "FIRST_STEP", 3)
        yield


class Life:
    """A shop to which things happen, with two benches on it, as two threads or processes hold them."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.shop = folder, folder / "shop"
        ticks = itertools.count()

        def clock() -> datetime:
            return datetime(2026, 11, 1, 8, 0, tzinfo=UTC) + timedelta(
                hours=next(ticks)
            )

        self.clock = clock
        self.benches = [
            Bench(self.shop, stock=CORPUS, clock=self.clock) for _ in range(2)
        ]
        self.jobs: list[str] = []
        self.backups: list[Path] = []

    def close(self) -> None:
        for bench in self.benches:
            bench.close()

    def confirm(self, who: int, cause: str, model: str, words: str) -> None:
        """Saved past the front door, which knows no cause of an entry that is gone."""
        history = self.benches[who].history()
        self.jobs.append(
            history.close_job(
                Confirmation(cause, model, words=words, minutes=7, part="battery")
            ).job
        )

    def front_door(self, who: int, words: str) -> None:
        self.jobs.append(
            self.benches[who]
            .jobs.confirm(Confirmation(CAUSES[0], MODELS[0], words=words))
            .job
        )

    def retract(self, who: int, which: int) -> None:
        # another one did so before, or the job went with a restore
        with suppress(Refusal):
            self.benches[who].jobs.retract(
                self.jobs[which % len(self.jobs)], "it was another"
            ) if self.jobs else None

    def guided(self, who: int, words: str) -> None:
        """Records that nobody counts: a job opened, a finding, a test set aside, a kind that is new here."""
        bench = self.benches[who]
        job = bench.jobs.begin(words, MODELS[0])
        bench.jobs.found(
            job, Finding("no-battery/reseat-the-battery-plug", "no change")
        )
        bench.jobs.could_not_do(job, "no-battery/reseat-the-battery-plug")
        bench.history().note(kinds.NO_FIT, "", {"words": "rattles"})

    def spread(self, who: int, words: str) -> None:
        """One complaint, confirmed under several entries, one of them gone, and the first of these retracted again."""
        causes = (
            "no-battery/pack",
            "keys-dead/ribbon",
            "gone-entry/gone-cause",
            "charges-no-start/button",
        )
        for number, cause in enumerate(causes):
            self.confirm(who, cause, MODELS[number % 2], words)
        self.benches[1 - who].jobs.retract(self.jobs[-len(causes)], "it was another")

    def put_away_and_imported(self, who: int) -> None:
        """A job that was put away here and comes in closed from elsewhere: it stays out of every count."""
        bench = self.benches[who]
        job = bench.jobs.begin("batt missing", MODELS[0])
        bench.jobs.retract(job, "sold for parts")
        line = exchange.to_line(
            Job(job, MODELS[0], CAUSES[0], "2026-10-01T08:00:00Z", words="batt missing")
        )
        assert import_jobs(bench.history(), [line]).added == 1

    def merged(self, who: int, turn: int) -> None:
        """One model is counted as the other from now on, or as itself again."""
        # it is already, it is not, or nothing is of the other
        with suppress(Refusal, NotThere):
            if turn == 2:
                self.benches[who].models.part(MODELS[0])
            else:
                self.benches[who].models.merge(MODELS[turn], MODELS[1 - turn])

    def back_up(self, who: int) -> None:
        target = self.folder / f"{len(self.backups)}.zip"
        self.benches[who].history()
        backup(self.shop, target, self.clock())
        self.backups.append(target)

    def restore(self, which: int) -> None:
        if self.backups:
            restore(
                self.backups[which % len(self.backups)],
                self.shop,
                self.clock(),
                replace=True,
            )

    def look(self, who: int) -> None:
        self.benches[who].asking.models()

    def slang(self, there: bool) -> None:
        file = self.shop / "words.toml"
        if there:
            self.shop.mkdir(exist_ok=True)
            file.write_text(SLANG, encoding="utf-8")
        else:
            file.unlink(missing_ok=True)

    def killed(self, after: int) -> None:
        """A process that asks something and dies at its statement of that number, most often within a change."""
        child = os.fork()
        if child == 0:
            _ask_and_die(self.shop, after)
        os.waitpid(child, 0)


def _ask_and_die(shop: Path, after: int) -> None:
    try:
        bench = Bench(shop, stock=CORPUS)
        left = iter(range(after, 0, -1))
        bench.shop.files.index()._connection.set_trace_callback(
            lambda _: None if next(left, 0) else os._exit(0)
        )
        bench.asking.models()
    finally:
        os._exit(0)


def figures(bench: Bench) -> list[object]:
    """Everything that is counted or believed in a shop."""
    answers = [replace(bench.asking.search(*asked), took_ms=0.0) for asked in ASKED]
    overviews = [bench.looking_back.overview(model) for model in ("", *MODELS)]
    return [
        bench.asking.models(),
        bench.entries.catalogue(),
        bench.entries.tools(),
        *overviews,
        *answers,
    ]


def figures_anew(shop: Path, folder: Path) -> list[object]:
    """The figures of a copy of the shop without its index."""
    copy = folder / "copy"
    shutil.copytree(shop, copy, ignore=shutil.ignore_patterns("index.db*"))
    bench = Bench(copy, stock=CORPUS)
    try:
        return figures(bench)
    finally:
        bench.close()


def confirmed(bench: Bench) -> dict[str, int]:
    return {
        failure.cause: failure.jobs
        for failure in bench.looking_back.overview().review.failures
    }


def test_after_an_older_backup_is_put_back_the_review_counts_what_the_history_holds(
    bench: Bench, tmp_path: Path
) -> None:
    """Five jobs were counted; of the history put back the sixth record is what the index would have passed over."""
    for _ in range(2):
        bench.jobs.confirm(Confirmation("no-battery/plug", "Tern 13"))
    backup(bench.folder, tmp_path / "older.zip", NOW)
    for _ in range(3):
        bench.jobs.confirm(
            Confirmation("no-battery/pack", "Tern 13", words="glimmer gone")
        )
    assert "glimmer gone" in bench.asking.search("glimmer gone").entries[0].matched
    restore(tmp_path / "older.zip", bench.folder, NOW, replace=True)

    assert "glimmer gone" not in bench.asking.search("glimmer gone").entries[0].matched
    assert confirmed(bench) == {"no-battery/plug": 2}
    effects = [
        bench.jobs.confirm(Confirmation("no-battery/light-board", "Tern 13")).effect
        for _ in range(4)
    ]

    assert effects[-1].endswith(" on Tern 13: 4 of 6 here")
    assert confirmed(bench) == {"no-battery/light-board": 4, "no-battery/plug": 2}


def test_right_after_a_restore_all_is_well(run: Callable[..., Result]) -> None:
    cause = ("battery-not-detected/contact", "--model", "Tern 13")
    run("confirm", *cause)
    run("backup", "older.zip")
    run("confirm", *cause)
    run("restore", "older.zip", "--replace")

    assert "all is well" in run("verify").stdout


def test_a_job_saved_while_the_index_is_looked_at_is_no_stray(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))
    other, whole = Bench(bench.folder, stock=CORPUS), refresh.strayed
    late = iter(["saved meanwhile"])

    def strayed(index: Index, history: History) -> str:
        for _ in late:
            other.history().close_job(Confirmation("no-battery/plug", "Tern 13"))
        return whole(index, history)

    monkeypatch.setattr(refresh, "strayed", strayed)

    assert bench.health.state().in_step
    other.close()


def test_records_that_nobody_counts_leave_everything_counted_and_remembered(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After them the next search counts and loads no more than a warm one: nothing at all."""
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13", words="glimmer gone"))
    expected = bench.asking.search("glimmer batt", "Tern 13").entries
    loads: list[object] = []
    whole = Remembered.get

    def remembered(
        kept: Remembered, name: Kept, load: Callable[[], Any], *key: object
    ) -> Any:
        def noted() -> Any:
            loads.append(name)
            return load()

        return whole(kept, name, noted, *key)

    monkeypatch.setattr(Remembered, "get", remembered)
    monkeypatch.setattr(JobTable, "settle", lambda *_: loads.append("settled"))
    job = bench.jobs.begin("glimmer", "Tern 13")
    bench.jobs.found(job, Finding("no-battery/reseat-the-battery-plug", "no change"))
    bench.jobs.could_not_do(job, "no-battery/reseat-the-battery-plug")
    bench.jobs.nothing_fits("rattles", "Tern 13")
    bench.history().note(kinds.NO_FIT, "", {"words": "rattles"})

    other = Bench(bench.folder, stock=CORPUS)
    assert bench.asking.search("glimmer batt", "Tern 13").entries == expected
    assert other.asking.search("glimmer batt", "Tern 13").entries == expected
    other.close()

    assert loads == []


def test_records_that_nobody_counts_are_passed_over_once(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))
    bench.asking.search("batt")
    for number in range(20):
        bench.history().note(kinds.NO_FIT, "", {"words": f"rattle {number}"})
    read: list[int] = []
    whole = History.records_since

    def records_since(
        history: History, seq: int = 0, kind: str = ""
    ) -> Iterator[Record]:
        for record in whole(history, seq, kind):
            read.append(record.seq)
            yield record

    monkeypatch.setattr(History, "records_since", records_since)
    bench.asking.search("batt")
    assert read == list(range(1, 22))

    read.clear()
    bench.asking.search("batt")

    assert read == [21]


def test_a_search_writes_nothing_because_of_a_few_records_that_nobody_counts(
    bench: Bench,
) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))
    bench.asking.search("batt")
    with bench.shop.files.reading() as (index, _):
        mark = index.about("mark")
    for number in range(3):
        bench.history().note(kinds.NO_FIT, "", {"words": f"rattle {number}"})
        bench.asking.search("batt")

    with bench.shop.files.reading() as (index, _):
        assert index.about("mark") == mark
        assert refresh.is_abreast(index, bench.history())
    bench.jobs.confirm(Confirmation("no-battery/plug", "Tern 13"))
    with bench.shop.files.reading() as (index, _):
        assert index.about("mark") != mark


def test_a_job_put_away_here_and_closed_elsewhere_stays_out_of_every_count(
    bench: Bench,
) -> None:
    """The history says so too: what was put away is retracted, for good."""
    job = bench.jobs.begin("batt missing", "Tern 13")
    bench.jobs.retract(job, "sold for parts")
    bench.jobs.confirm(Confirmation("no-battery/plug", "Tern 13"))
    line = exchange.to_line(
        Job(
            job,
            "Tern 13",
            "no-battery/pack",
            "2026-10-01T08:00:00Z",
            words="batt missing",
        )
    )

    assert import_jobs(bench.history(), [line]).added == 1

    assert confirmed(bench) == {"no-battery/plug": 1}
    assert bench.health.state().problems == ()


def test_a_complaint_is_read_alike_whatever_was_looked_at_between(
    bench: Bench, tmp_path: Path
) -> None:
    """A word of the shop's own is no reading for the next slip, else the moment of a search would count."""
    other = Bench(tmp_path / "other", stock=CORPUS)
    for words_said in ("wibbles like a jellyfish", "wibles like jelyfish"):
        for one in (bench, other):
            one.jobs.confirm(
                Confirmation("keys-dead/ribbon", "Tern 13", words=words_said)
            )
        bench.asking.search("wibbles")
    (other.folder / "index.db").unlink()

    for asked in ("wibbles", "jelyfish", "wibles like jellyfish"):
        assert (
            bench.asking.search(asked).entries == other.asking.search(asked).entries
        ), asked
    other.close()


def counted(index: Path) -> list[list[tuple[object, ...]]]:
    """All that an index counts, but for the numbers that entries happen to have."""
    with sqlite3.connect(index) as connection:
        return [
            connection.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall()
            for table in ("said", "spoken_term", "spoken_mass", "tally", "word")
        ]


def test_a_complaint_confirmed_under_several_entries_and_retracted_leaves_what_was_counted_before(
    bench: Bench, tmp_path: Path
) -> None:
    bench.jobs.confirm(
        Confirmation("no-battery/pack", "Tern 13", words="glimmer gone, dead")
    )
    bench.jobs.confirm(
        Confirmation("keys-dead/ribbon", "Skua 14", words="wibbles like a jellyfish")
    )
    bench.asking.search("glimmer")
    before = counted(bench.folder / "index.db")

    further = [
        bench.jobs.confirm(Confirmation(cause, model, words="glimmer gone, dead")).job
        for cause in (
            "keys-dead/ribbon",
            "charges-no-start/button",
            "no-battery/plug",
            "keys-dead/ribbon",
        )
        for model in MODELS
    ]
    bench.asking.search("glimmer")
    anew = Bench(
        shutil.copytree(
            bench.folder, tmp_path / "copy", ignore=shutil.ignore_patterns("index.db*")
        ),
        CORPUS,
    )
    anew.asking.search("glimmer")
    assert (
        counted(anew.folder / "index.db")
        == counted(bench.folder / "index.db")
        != before
    )
    anew.close()
    for job in further:
        bench.jobs.retract(job, "it was another")
    bench.asking.search("glimmer")

    assert counted(bench.folder / "index.db") == before


def test_a_long_history_is_kept_portion_by_portion_and_gone_on_with_where_it_broke_off(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.asking.models()
    for number in range(8):
        bench.history().close_job(
            Confirmation(
                CAUSES[number % 3], MODELS[number % 2], words=WORDS[number % 4]
            )
        )
    taken: list[int] = []
    whole = JobTable.put

    def put(table: JobTable, closed: Sequence[ClosedJob]) -> None:
        if taken == [1, 2, 3, 4, 5, 6]:
            raise MemoryError
        taken.extend(one.seq for one in closed)
        whole(table, closed)

    with monkeypatch.context() as patch:
        patch.setattr(JobTable, "put", put)
        with pytest.raises(MemoryError):
            bench.asking.models()
    with sqlite3.connect(bench.folder / "index.db") as index:
        kept = index.execute("SELECT seq FROM job ORDER BY seq").fetchall()
    assert kept == [(number,) for number in range(1, 7)]

    assert sum(confirmed(bench).values()) == 8
    assert not bench.health.state().problems


WHO, NUMBER = st.integers(0, 1), st.integers(0, 5)
ACTIONS: st.SearchStrategy[tuple[Any, ...]] = st.one_of(
    st.tuples(
        st.just(Life.confirm),
        WHO,
        st.sampled_from(CAUSES),
        st.sampled_from(MODELS),
        st.sampled_from(WORDS),
    ),
    st.tuples(st.just(Life.front_door), WHO, st.sampled_from(WORDS)),
    st.tuples(st.just(Life.merged), WHO, st.integers(0, 2)),
    st.tuples(st.just(Life.retract), WHO, NUMBER),
    st.tuples(st.just(Life.spread), WHO, st.sampled_from(WORDS)),
    st.tuples(st.just(Life.guided), WHO, st.sampled_from(WORDS)),
    st.tuples(st.just(Life.put_away_and_imported), WHO),
    st.tuples(st.just(Life.back_up), WHO),
    st.tuples(st.just(Life.restore), NUMBER),
    st.tuples(st.just(Life.look), WHO),
    st.tuples(st.just(Life.slang), st.booleans()),
    st.tuples(st.just(Life.killed), st.integers(0, 80)),
)


@pytest.mark.skipif(
    not hasattr(os, "fork"),
    reason="a process that dies is made by forking, which this system lacks",
)
@settings(max_examples=1_000 if LONG else 20)
@given(happened=st.lists(ACTIONS, min_size=2, max_size=16))
def test_whatever_happened_the_figures_are_those_of_an_index_made_anew(
    happened: list[tuple[Any, ...]],
) -> None:
    with quick_folder() as folder:
        life = Life(folder)
        try:
            for act, *given in happened:
                act(life, *given)
            told = [figures(bench) for bench in life.benches]

            anew = figures_anew(life.shop, folder)
            assert told == [anew, anew]
            assert not life.benches[0].health.state().problems
        finally:
            life.close()
