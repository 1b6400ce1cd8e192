"""Jobs in the history: opened, tested, closed, retracted, never changed."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result
from helpers.histories import NOON, START, counted_ids, minute_by_minute, note_finding

from kb.base.clock import clock_doubt, stamp
from kb.history import History, kinds
from kb.history.ledger import Ledger
from kb.history.trouble import (
    AmbiguousJob,
    JobClosed,
    JobRetracted,
    NotAccepted,
    UnknownJob,
)
from kb.history.verification import verify
from kb.model import Confirmation, Finding, Job


def test_a_close_record_tells_the_whole_job_by_itself(history: History) -> None:
    job = history.open_job("Tern 13", "T-07", "no light")
    note_finding(history, job, Finding("no-light/try-charger", "still dark"))

    history.close_job(
        Confirmation(
            "no-light/dc-jack",
            job=job,
            minutes=12.5,
            part="dc jack",
            donor="T-02",
            note="pins bent",
            by="Ada",
        )
    )

    (closed,) = history.closed_jobs()
    assert closed == Job(
        job=job,
        model="Tern 13",
        cause="no-light/dc-jack",
        closed_at="2026-11-24T10:03:00Z",
        shop=history.shop,
        unit="T-07",
        words="no light",
        minutes=12.5,
        part="dc jack",
        donor="T-02",
        note="pins bent",
        by="Ada",
        outcomes=(Finding("no-light/try-charger", "still dark"),),
    )
    assert history.job_state(job).closed == closed
    assert history.open_jobs() == ()


def test_a_cause_can_be_confirmed_without_opening_a_job_first(history: History) -> None:
    record = history.close_job(NOON)
    (closed,) = history.closed_jobs()
    assert (closed.job, closed.cause) == (record.job, "no-light/dc-jack")
    assert closed.closed_at == "2026-11-24T12:00:00Z"
    assert history.job_state(record.job).model == "Tern 13"


def test_a_closing_time_of_another_zone_is_kept_as_utc(history: History) -> None:
    history.close_job(
        Confirmation("a/b", model="Tern 13", closed_at="2026-11-24T13:30:00+01:00")
    )
    assert next(history.closed_jobs()).closed_at == "2026-11-24T12:30:00Z"


def test_a_closed_job_cannot_be_closed_or_tested_again(history: History) -> None:
    job = history.close_job(NOON).job
    with pytest.raises(JobClosed, match="retract it if that was wrong"):
        history.close_job(Confirmation("no-light/mainboard", job=job))
    with pytest.raises(JobClosed):
        note_finding(history, job, Finding("a/b", "dark"))
    assert [closed.cause for closed in history.closed_jobs()] == ["no-light/dc-jack"]


def test_a_retracted_job_is_gone_from_the_evidence_but_not_from_the_record(
    history: History,
) -> None:
    kept, wrong = history.close_job(NOON).job, history.close_job(NOON).job

    history.retract(wrong, "it was the charger after all", by="Ada")

    assert [closed.job for closed in history.closed_jobs()] == [kept]
    assert [closed.job for closed in history.closed_jobs(include_retracted=True)] == [
        kept,
        wrong,
    ]
    assert history.job_state(wrong).retracted == "it was the charger after all"
    assert history.retracted_jobs() == {wrong: "it was the charger after all"}


def test_the_evidence_after_a_retraction_is_that_of_a_history_without_the_job(
    tmp_path: Path,
) -> None:
    with (
        History.open(
            tmp_path / "a/history.db", minute_by_minute(), counted_ids()
        ) as one,
        History.open(
            tmp_path / "b/history.db", minute_by_minute(), counted_ids()
        ) as other,
    ):
        for each in (one, other):
            each.close_job(NOON)
        one.retract(
            one.close_job(Confirmation("other/cause", model="Skua 14")).job,
            "wrong machine",
        )
        assert list(one.closed_jobs()) == list(other.closed_jobs())


def test_the_command_that_retracts_keeps_who_said_so(
    tmp_path: Path, run: Callable[..., Result]
) -> None:
    with History.open(tmp_path / "shop" / "history.db") as history:
        job = history.close_job(NOON).job

    run("retract", job, "--why", "it was the cable", "--by", "KL")

    with History.open(tmp_path / "shop" / "history.db") as history:
        (record,) = history.records_since(0, "retract")
    assert json.loads(record.body) == {"by": "KL", "why": "it was the cable"}


def test_the_command_that_confirms_keeps_who_found_it(
    tmp_path: Path, run: Callable[..., Result]
) -> None:
    run("confirm", "battery-not-detected/contact", "--model", "Tern 13", "--by", "KL")

    with History.open(tmp_path / "shop" / "history.db") as history:
        (job,) = history.closed_jobs()
    assert job.by == "KL"


def test_a_retraction_needs_one_known_job_and_a_reason(history: History) -> None:
    job, other = history.close_job(NOON).job, history.close_job(NOON).job
    with pytest.raises(UnknownJob, match="zzz"):
        history.retract("zzz", "wrong")
    with pytest.raises(UnknownJob):
        history.retract("", "wrong")
    with pytest.raises(AmbiguousJob, match=f"2 jobs begin with a.*{job}.*{other}"):
        history.retract("a", "wrong")
    with pytest.raises(NotAccepted, match="say why"):
        history.retract(job, " \n")
    history.retract(job, "wrong")
    with pytest.raises(JobRetracted, match="already: wrong"):
        history.retract(job, "wrong")
    assert len(list(history.records_since(0, "retract"))) == 1


def test_a_retracted_open_job_leaves_the_bench_and_takes_no_more_notes(
    history: History,
) -> None:
    job = history.open_job("Tern 13")
    history.retract(job, "opened by mistake")
    assert history.open_jobs() == ()
    with pytest.raises(JobRetracted, match="opened by mistake; open a new job"):
        history.close_job(Confirmation("a/b", job=job))


def test_nothing_can_be_noted_on_a_job_that_nobody_opened(history: History) -> None:
    with pytest.raises(UnknownJob, match="nobody"):
        note_finding(history, "nobody", Finding("a/b", "dark"))
    with pytest.raises(UnknownJob, match="nobody"):
        history.close_job(Confirmation("a/b", job="nobody"))
    assert history.tip().count == 0


def test_a_second_tap_saves_nothing_new_and_gives_the_first_answer(
    history: History,
) -> None:
    job = history.open_job("Tern 13", token="form-1")
    assert history.open_job("Tern 13", token="form-1") == job
    finding = note_finding(history, job, Finding("a/b", "dark"), "form-2")
    assert note_finding(history, job, Finding("a/b", "dark"), "form-2") == finding
    taken = history.take_back(job, finding.id, "form-3")
    assert history.take_back(job, finding.id, "form-3") == taken
    closed = history.close_job(Confirmation("a/b", job=job), "form-4")
    assert history.close_job(Confirmation("a/b", job=job), "form-4") == closed
    retracted = history.retract(job, "wrong", token="form-5")
    assert history.retract(job, "wrong", token="form-5") == retracted
    assert history.tip().count == 5


def test_a_token_is_remembered_after_the_history_was_closed(tmp_path: Path) -> None:
    with History.open(tmp_path / "history.db") as history:
        first = history.close_job(NOON, "form-1")
    with History.open(tmp_path / "history.db") as history:
        assert history.close_job(NOON, "form-1") == first
        assert history.tip().count == 1


def test_writing_without_a_token_always_adds(history: History) -> None:
    history.close_job(NOON)
    history.close_job(NOON)
    assert len(list(history.closed_jobs())) == 2


def test_records_go_by_number_even_when_the_clock_goes_backwards(
    tmp_path: Path,
) -> None:
    hours = iter(
        [
            START,
            START,
            START - timedelta(hours=1),
            datetime(1970, 1, 1, tzinfo=UTC),
            START,
        ]
    )
    with History.open(tmp_path / "history.db", lambda: next(hours)) as history:
        for note in ("first", "second", "third"):
            history.note(kinds.NO_FIT, "", {"words": note})
        records = list(history.records_since())
    assert [record.body for record in records] == [
        '{"words":"first"}',
        '{"words":"second"}',
        '{"words":"third"}',
    ]
    assert [record.at for record in records] == [
        "2026-11-24T10:00:00Z",
        "2026-11-24T09:00:00Z",
        "1970-01-01T00:00:00Z",
    ]


@pytest.mark.parametrize(
    "wrong", [datetime(1970, 1, 1, tzinfo=UTC), datetime(2099, 1, 1, tzinfo=UTC)]
)
def test_a_right_clock_is_believed_after_records_of_a_wrong_one(
    tmp_path: Path, wrong: datetime
) -> None:
    """In a shop begun under the wrong clock, and in one in which it was wrong for a while."""
    for times in ([wrong], [START, wrong]):
        path = tmp_path / str(len(times)) / "history.db"
        for time in times:
            with History.open(path, lambda time=time: time) as history:  # type: ignore[misc]
                history.close_job(NOON)
        with History.open(path, lambda: START + timedelta(days=1)) as history:
            assert history.clock_warning() == ""
    back = START - timedelta(days=1)
    with History.open(path, lambda: back) as history:
        assert (
            "but the last record is of 2026-11-24T10:00:00Z" in history.clock_warning()
        )
    assert (
        "but the last record is of 2026-11-24T10:00:00Z"
        in verify(path, lambda: back).clock_warning
    )
    assert clock_doubt(START, stamp(wrong), stamp(START)) == ""


def test_a_clock_without_a_time_zone_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="zone"):
        History.open(tmp_path / "history.db", lambda: datetime(2026, 11, 24))


def test_records_of_unknown_kinds_are_kept_and_passed_over(history: History) -> None:
    job = history.open_job("Tern 13")
    before = history.job_state(job)
    record = Ledger.open(history.path).append("shelf-move", job, {"to": "rack 3"})
    assert history.job_state(job) == before
    assert list(history.records_since(1)) == [record]
    assert list(history.records_since(0, "shelf-move")) == [record]


def test_notes_stand_on_open_and_closed_jobs(history: History) -> None:
    job = history.close_job(NOON).job
    history.note(kinds.NOTE, job, {"text": "came back after a week", "by": "Ada"})
    assert history.job_state(job).notes == ("came back after a week",)


def test_what_is_written_together_is_kept_together(history: History) -> None:
    def half_wrong() -> None:
        with history.together():
            history.close_job(NOON)
            history.retract("nobody", "wrong")

    with pytest.raises(UnknownJob):
        half_wrong()
    assert history.tip().count == 0
    with history.together():
        history.close_job(NOON)
        history.close_job(NOON)
    assert history.tip().count == 2


def test_reading_goes_on_while_jobs_are_added(tmp_path: Path) -> None:
    with (
        History.open(tmp_path / "history.db") as reader,
        History.open(tmp_path / "history.db") as writer,
    ):
        for _ in range(3):
            writer.close_job(NOON)
        reading = reader.records_since()
        assert next(reading).seq == 1
        writer.close_job(NOON)
        assert [record.seq for record in reading] in ([2, 3], [2, 3, 4])
        assert [record.seq for record in reader.records_since(3)] == [4]


def test_a_job_of_another_shop_taken_up_again_is_on_no_machine_of_ours(
    history: History,
) -> None:
    history.adopt(
        Job(
            "theirs",
            model="Tern 13",
            cause=NOON.cause,
            closed_at=NOON.closed_at,
            shop="other",
            unit="P7-1",
        )
    )

    again = history.job_state(history.open_again("theirs"))

    assert (again.model, again.unit) == ("Tern 13", "")


@pytest.mark.parametrize("with_its_machines", [True, False])
def test_where_an_older_program_moved_a_folder_the_jobs_that_came_by_then_are_ours(
    history: History, with_its_machines: bool
) -> None:
    """That program noted machines as taken in, and an import that brought jobs; nothing of whose they were."""

    def bring(shop: str, *machines: str) -> None:
        first = history.tip().count + 1
        for tag in machines:
            history.note(kinds.UNIT_IN, "", {"tag": tag}, f"from {tag}")
        history.note(
            kinds.FIT,
            "",
            {"part": "fan", "from_model": "a", "to_model": "b", "shown": "worked"},
            f"from {shop}",
        )
        history.adopt(
            Job(
                f"job-{shop}",
                model="Tern 13",
                cause=NOON.cause,
                closed_at=NOON.closed_at,
                shop=shop,
            )
        )
        history.note(kinds.IMPORTED, "", {"file": shop, "first": first, "jobs": 1})

    bring("moved", *(["P7-1"] if with_its_machines else []))
    if not with_its_machines:
        history.note(kinds.UNIT_IN, "", {"tag": "P7-1"}, "from P7-1")
    bring("another")
    assert history.own_shops() == {history.shop, "moved"}

    history.note(kinds.MOVED_IN, "", {"shop": "third"})
    history.note(kinds.UNIT_IN, "", {"tag": "P7-2"}, "from P7-2")

    assert history.own_shops() == {history.shop, "moved", "third"}
