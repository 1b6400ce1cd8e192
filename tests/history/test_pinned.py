"""Files that an earlier program wrote are read as they were meant: the format of what shops hold is pinned here.

The files in tests/data/pinned were made once and are never made anew (see the README there). If a test fails, every
history, backup or export that is out there would fail likewise: mend the program, not the files.
"""

from __future__ import annotations

import json
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers.histories import import_jobs
from helpers.places import TESTS

from kb.bench.front import Bench
from kb.history import History
from kb.history.copies.backup import backup, restore
from kb.history.exchange import ImportReport, export_jobs
from kb.history.verification import verify
from kb.model import Confirmation
from kb.review.failures import Review

HERE = TESTS
CORPUS, PINNED = HERE / "corpus", HERE / "data" / "pinned"
CHAIN = "ee81c657584465eb7bc3c0ced8bf2ce969b73ce57eb41e5448d543a2f5e9bf73"
NOW = datetime(2026, 11, 30, 8, 0, tzinfo=UTC)


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A folder with a copy of the pinned history and its marks."""
    folder = tmp_path / "pinned"
    folder.mkdir()
    for pinned, name in (("sqlite", "db"), ("id", "id"), ("tip", "tip")):
        shutil.copy(PINNED / f"history-1.{pinned}", folder / f"history.{name}")
    return folder


def imported(history: History, name: str) -> ImportReport:
    with (PINNED / name).open(encoding="utf-8") as lines:
        return import_jobs(history, lines)


def reviewed(shop: Path) -> Review:
    bench = Bench(shop, stock=CORPUS, clock=lambda: NOW)
    try:
        return bench.looking_back.overview().review
    finally:
        bench.close()


def figures(review: Review) -> list[tuple[object, ...]]:
    """Of every cause: jobs, machines, rate and interval in hundredths of a percent, median minutes, parts."""
    return [
        (
            one.cause,
            one.jobs,
            one.machines,
            *(round(share, 4) for share in (one.rate, one.low, one.high)),
            one.median_minutes,
            one.parts,
        )
        for one in review.failures
    ]


#: What the shop reviews; the limits by Wilson's formula (tests/base/test_intervals.py holds it against others).
FIGURES = [
    ("no-battery/pack", 3, 3, 0.3333, 0.1206, 0.6458, 13.5, (("battery", 2),)),
    ("no-battery/plug", 2, 2, 0.2222, 0.0632, 0.5474, 8.25, ()),
    (
        "charges-no-start/button",
        1,
        1,
        0.1111,
        0.0199,
        0.435,
        31.0,
        (("power button board", 1),),
    ),
    ("keys-dead/ribbon", 1, 1, 0.1111, 0.0199, 0.435, 20.0, ()),
    ("keys-dead/spill", 1, 1, 0.1111, 0.0199, 0.435, 25.5, (("keyboard", 1),)),
    (
        "no-battery/light-board",
        1,
        1,
        0.1111,
        0.0199,
        0.435,
        44.0,
        (("charge-indicator board", 1),),
    ),
]


def test_an_old_history_is_sound_to_its_last_record(shop: Path) -> None:
    found = verify(shop / "history.db", lambda: NOW)

    assert (found.problems(), found.tip, found.records, found.chain) == (
        (),
        "in step",
        22,
        CHAIN,
    )


def test_an_old_history_tells_the_words_that_were_typed(shop: Path) -> None:
    with History.open(shop / "history.db", create=False) as history:
        jobs = {job.unit: job for job in history.closed_jobs()}
        reasons = sorted(history.retracted_jobs().values())

    assert jobs["T-01"].words == "Akku lädt nicht, écran noir"
    assert (jobs["T-02"].words, jobs["T-02"].by, jobs["T-02"].minutes) == (
        "батарея не видна",
        "Юра",
        7.5,
    )
    assert jobs["S-01"].words == "キーボードが反応しない 🔧"
    assert (jobs["S-02"].words, jobs["S-02"].note[:18]) == (
        "الجهاز لا يعمل",
        "line one\u2028line two\x85",
    )
    assert jobs["T-03"].words == "no\ufffdbattery \ufffd here"
    assert [finding.outcome for finding in jobs["T-04"].outcomes] == ["no change"]
    assert reasons == ["it was the pack – größer als gedacht", "sold for parts"]


def test_a_job_on_the_bench_in_an_old_history_is_still_there(shop: Path) -> None:
    with History.open(shop / "history.db", create=False) as history:
        waiting = [(job.model, job.unit, job.words) for job in history.open_jobs()]
        closed = history.job_state("v5sfb4s2jngw")

    assert waiting == [("Gannet 15", "G-02", "bildschirm flackert")]
    assert [failed.fix for failed in closed.failed_fixes] == ["no-battery/pack"]
    assert [noted.finding.test for noted in closed.findings] == [
        "no-battery/reseat-the-battery-plug"
    ]
    assert closed.notes == ("Ribbon looks nicked – naïve guess",)


def test_a_form_that_was_sent_long_ago_saves_nothing_new(shop: Path) -> None:
    with History.open(shop / "history.db", create=False) as history:
        again = history.close_job(
            Confirmation("no-battery/pack", "Tern 13"), token="form-0001"
        )

        assert (again.seq, history.tip().count) == (1, 22)


def test_an_old_history_takes_new_records(shop: Path) -> None:
    with History.open(shop / "history.db", lambda: NOW, create=False) as history:
        history.close_job(Confirmation("no-battery/pack", "Tern 13", words="größer"))

    found = verify(shop / "history.db", lambda: NOW)
    assert (found.problems(), found.records) == ((), 23)


def test_the_review_of_an_old_history_gives_the_figures_it_gave(shop: Path) -> None:
    review = reviewed(shop)

    assert (
        review.jobs,
        review.machines,
        review.median_minutes,
        review.total_minutes,
    ) == (9, 9, 17.5, 164.0)
    assert figures(review) == FIGURES


def test_an_old_export_adds_its_jobs_once_and_then_none(tmp_path: Path) -> None:
    with History.open(tmp_path / "history.db", lambda: NOW) as history:
        first, second = (
            imported(history, "jobs-1.jsonl"),
            imported(history, "jobs-1.jsonl"),
        )

    assert (first.added, first.known, first.retracted, first.remarks) == (10, 0, 1, ())
    assert (second.added, second.known, second.retracted, second.remarks) == (
        0,
        10,
        0,
        (),
    )
    assert figures(reviewed(tmp_path)) == FIGURES


@pytest.mark.parametrize("name", ["jobs-1.jsonl", "jobs-without-ids-1.jsonl"])
def test_what_an_old_history_gave_or_took_in_is_known_to_it(
    shop: Path, name: str
) -> None:
    with History.open(shop / "history.db", lambda: NOW, create=False) as history:
        report = imported(history, name)

    assert (report.added, report.retracted, report.remarks) == (0, 0, ())
    assert report.known == len((PINNED / name).read_text("utf-8").splitlines())


def test_jobs_without_ids_get_the_ids_they_got_before(tmp_path: Path) -> None:
    with History.open(tmp_path / "history.db", lambda: NOW) as history:
        imported(history, "jobs-without-ids-1.jsonl")

        assert [job.job for job in history.closed_jobs()] == [
            "shy2trjkwjp6",
            "9dab19sqnq33",
        ]


def test_every_key_of_an_old_export_is_still_written_with_its_value(shop: Path) -> None:
    with History.open(shop / "history.db", create=False) as history:
        written = [
            json.loads(line) for line in export_jobs(history, with_retracted=True)
        ]
    expected = [
        json.loads(line)
        for line in (PINNED / "jobs-1.jsonl").read_text("utf-8").splitlines()
    ]

    assert [
        {key: new[key] for key in old}
        for new, old in zip(written, expected, strict=True)
    ] == expected


def test_an_old_backup_restores_with_everything_in_it(
    shop: Path, tmp_path: Path
) -> None:
    report = restore(PINNED / "backup-1.zip", tmp_path / "back", NOW)

    back = tmp_path / "back"
    assert (report.manifest.records, report.manifest.chain) == (22, CHAIN)
    assert verify(back / "history.db", lambda: NOW).problems() == ()
    assert "die Tasten gehen nicht, ключ западает" in (
        back / "entries" / "keys-dead.md"
    ).read_text("utf-8")
    assert "аккум" in (back / "words.toml").read_text("utf-8")
    with (
        History.open(back / "history.db") as restored,
        History.open(shop / "history.db") as original,
    ):
        assert list(restored.records_since()) == list(original.records_since())
    assert figures(reviewed(back)) == FIGURES


def test_an_old_history_is_backed_up_as_it_was(shop: Path, tmp_path: Path) -> None:
    made = backup(shop, tmp_path / "again.zip", NOW)

    assert (made.records, made.chain, made.shop, made.created) == (
        22,
        CHAIN,
        "7p8ne9wcx577",
        "2026-11-29T08:00:00Z",
    )
