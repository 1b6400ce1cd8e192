"""Jobs in the history: opened, tested, closed, retracted, never changed."""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest
from click.testing import Result
from helpers.shops import quick_folder

from kb.base.clock import clock_doubt, stamp
from kb.base.trouble import Refusal
from kb.history import History, kinds
from kb.history.ids import ALPHABET, random_id
from kb.history.jobs import FailedFix
from kb.history.ledger import Ledger
from kb.history.record import Record, chain_of, first_link
from kb.history.trouble import AmbiguousJob, JobClosed, JobRetracted, NotAccepted, UnknownJob
from kb.history.verification import verify
from kb.model import Confirmation, Finding, Job

START = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)
NOON = Confirmation("no-light/dc-jack", model="Tern 13", minutes=12, closed_at="2026-11-24T12:00:00Z")


def minute_by_minute() -> Callable[[], datetime]:
    minutes = itertools.count()
    return lambda: START + timedelta(minutes=next(minutes))


def counted_ids(letter: str = "a") -> Callable[[], str]:
    numbers = itertools.count(1)
    return lambda: f"{letter}{next(numbers):011d}"


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    with quick_folder() as folder:
        yield folder


@pytest.fixture
def history(tmp_path: Path) -> Iterator[History]:
    with History.open(tmp_path / "history.db", minute_by_minute(), counted_ids()) as opened:
        yield opened


def note_finding(history: History, job: str, found: Finding, token: str = "") -> Record:
    """The record of what a test showed on an open job."""
    return history.note(kinds.FINDING, job, {"test": found.test, "outcome": found.outcome}, token)


def test_an_opened_job_is_on_the_bench_with_what_was_typed(history: History) -> None:
    job = history.open_job("Tern 13", "T-07", "no light when plugged in")

    state = history.job_state(job)

    assert (state.model, state.unit, state.words) == ("Tern 13", "T-07", "no light when plugged in")
    assert (state.closed, state.retracted) == (None, "")
    assert history.open_jobs() == (state,)


def test_findings_and_failed_fixes_stand_in_the_order_in_which_they_were_noted(history: History) -> None:
    job = history.open_job("Tern 13")
    first = note_finding(history, job, Finding("no-light/try-charger", "still dark"))
    fix = history.note(kinds.FAILED_FIX, job, {"fix": "no-light/reseat-jack"})
    second = note_finding(history, job, Finding("no-light/measure-rail", "0 V"))

    state = history.job_state(job)

    assert state.outcomes == (Finding("no-light/try-charger", "still dark"), Finding("no-light/measure-rail", "0 V"))
    assert [noted.record for noted in state.findings] == [first.id, second.id]
    assert state.failed_fixes == (FailedFix(fix.id, "no-light/reseat-jack"),)


def test_a_finding_taken_back_counts_no_longer_but_stays_on_record(history: History) -> None:
    job = history.open_job("Tern 13")
    wrong = note_finding(history, job, Finding("no-light/try-charger", "light comes on"))

    history.take_back(job, wrong.id)

    assert history.job_state(job).findings == ()
    assert [record.kind for record in history.records_since()] == ["open", "finding", "takeback"]


def test_a_failed_fix_can_be_taken_back(history: History) -> None:
    job = history.open_job("Tern 13")
    history.take_back(job, history.note(kinds.FAILED_FIX, job, {"fix": "reseat"}).id)
    assert history.job_state(job).failed_fixes == ()


def test_what_is_not_on_the_job_cannot_be_taken_back(history: History) -> None:
    job, other = history.open_job("Tern 13"), history.open_job("Skua 14")
    elsewhere = note_finding(history, other, Finding("a/b", "dark"))
    once = note_finding(history, job, Finding("a/b", "dark"))
    history.take_back(job, once.id)
    for record in (elsewhere.id, once.id, "nothing"):
        with pytest.raises(NotAccepted, match="load the job again"):
            history.take_back(job, record)


def test_a_close_record_tells_the_whole_job_by_itself(history: History) -> None:
    job = history.open_job("Tern 13", "T-07", "no light")
    note_finding(history, job, Finding("no-light/try-charger", "still dark"))

    history.close_job(
        Confirmation(
            "no-light/dc-jack", job=job, minutes=12.5, part="dc jack", donor="T-02", note="pins bent", by="Ada"
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
    history.close_job(Confirmation("a/b", model="Tern 13", closed_at="2026-11-24T13:30:00+01:00"))
    assert next(history.closed_jobs()).closed_at == "2026-11-24T12:30:00Z"


def test_a_closed_job_cannot_be_closed_or_tested_again(history: History) -> None:
    job = history.close_job(NOON).job
    with pytest.raises(JobClosed, match="retract it if that was wrong"):
        history.close_job(Confirmation("no-light/mainboard", job=job))
    with pytest.raises(JobClosed):
        note_finding(history, job, Finding("a/b", "dark"))
    assert [closed.cause for closed in history.closed_jobs()] == ["no-light/dc-jack"]


def test_a_retracted_job_is_gone_from_the_evidence_but_not_from_the_record(history: History) -> None:
    kept, wrong = history.close_job(NOON).job, history.close_job(NOON).job

    history.retract(wrong, "it was the charger after all", by="Ada")

    assert [closed.job for closed in history.closed_jobs()] == [kept]
    assert [closed.job for closed in history.closed_jobs(include_retracted=True)] == [kept, wrong]
    assert history.job_state(wrong).retracted == "it was the charger after all"
    assert history.retracted_jobs() == {wrong: "it was the charger after all"}


def test_the_jobs_closed_last_are_this_shops_own_latest_first(history: History) -> None:
    first, second, third = (history.close_job(NOON).job for _ in range(3))
    history.adopt(Job("x1", "Skua 14", "no-light/dc-jack", "2026-11-24T12:00:00Z", shop="elsewhere"))
    history.retract(second, "wrong machine")

    assert [job.job for job in history.last_closed(5)] == [third, first]
    assert [job.job for job in history.last_closed(1)] == [third]


def test_the_evidence_after_a_retraction_is_that_of_a_history_without_the_job(tmp_path: Path) -> None:
    with (
        History.open(tmp_path / "a/history.db", minute_by_minute(), counted_ids()) as one,
        History.open(tmp_path / "b/history.db", minute_by_minute(), counted_ids()) as other,
    ):
        for each in (one, other):
            each.close_job(NOON)
        one.retract(one.close_job(Confirmation("other/cause", model="Skua 14")).job, "wrong machine")
        assert list(one.closed_jobs()) == list(other.closed_jobs())


def test_a_job_is_retracted_by_the_first_characters_of_its_id(history: History) -> None:
    job = history.close_job(NOON).job
    assert history.retract(f"  {job[:11].upper()} ", "typed on the wrong line").job == job


def test_the_command_that_retracts_keeps_who_said_so(tmp_path: Path, run: Callable[..., Result]) -> None:
    with History.open(tmp_path / "shop" / "history.db") as history:
        job = history.close_job(NOON).job

    run("retract", job, "--why", "it was the cable", "--by", "KL")

    with History.open(tmp_path / "shop" / "history.db") as history:
        (record,) = history.records_since(0, "retract")
    assert json.loads(record.body) == {"by": "KL", "why": "it was the cable"}


def test_the_command_that_confirms_keeps_who_found_it(tmp_path: Path, run: Callable[..., Result]) -> None:
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


def test_an_id_that_begins_another_one_still_names_its_own_job(history: History) -> None:
    for job in ("tern", "tern-2"):
        history.adopt(Job(job, "Tern 13", "a/b", "2026-11-24T12:00:00Z"))
    assert history.full_id("tern") == "tern"
    assert history.full_id("tern-") == "tern-2"


def test_a_percent_sign_in_an_id_stands_for_itself(history: History) -> None:
    history.close_job(NOON)
    with pytest.raises(UnknownJob):
        history.full_id("%")


def test_finding_the_jobs_on_the_bench_takes_twice_as_long_in_a_history_twice_as_long(history: History) -> None:
    """Counted in steps of SQLite's machine, which are the same on every computer."""
    took, steps = [], itertools.count()
    for _ in range(2):
        with history.together():
            for number in range(300):
                job = history.open_job("Tern 13")
                if number % 2:
                    history.close_job(replace(NOON, job=job))
                else:
                    history.retract(job, "another machine")
        began = next(steps)
        history._ledger._connection.set_progress_handler(lambda: next(steps) < 0, 10)
        assert history.open_jobs() == ()
        history._ledger._connection.set_progress_handler(None, 0)
        took.append(next(steps) - began)

    assert took[0] > 100
    assert took[1] < 3 * took[0]


def test_a_retracted_open_job_leaves_the_bench_and_takes_no_more_notes(history: History) -> None:
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


def test_a_second_tap_saves_nothing_new_and_gives_the_first_answer(history: History) -> None:
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


def test_records_go_by_number_even_when_the_clock_goes_backwards(tmp_path: Path) -> None:
    hours = iter([START, START, START - timedelta(hours=1), datetime(1970, 1, 1, tzinfo=UTC), START])
    with History.open(tmp_path / "history.db", lambda: next(hours)) as history:
        for note in ("first", "second", "third"):
            history.note(kinds.NO_FIT, "", {"words": note})
        records = list(history.records_since())
    assert [record.body for record in records] == ['{"words":"first"}', '{"words":"second"}', '{"words":"third"}']
    assert [record.at for record in records] == ["2026-11-24T10:00:00Z", "2026-11-24T09:00:00Z", "1970-01-01T00:00:00Z"]


@pytest.mark.parametrize(
    ("now", "doubt"),
    [
        (START, ""),
        (START + timedelta(days=300), ""),
        (START - timedelta(minutes=5), ""),
        (START - timedelta(minutes=5, seconds=1), "but the last record is of 2026-11-24T10:00:00Z"),
        (START - timedelta(hours=1), "but the last record is of 2026-11-24T10:00:00Z"),
        (START - timedelta(days=1), "but the last record is of"),
        (datetime(1970, 1, 1, tzinfo=UTC), "which cannot be"),
        (datetime(2015, 1, 1, tzinfo=UTC), "which cannot be"),
        (datetime(2099, 1, 1, tzinfo=UTC), "which cannot be"),
        (datetime(9999, 12, 31, tzinfo=UTC), "which cannot be"),
        (datetime(1, 1, 1, tzinfo=UTC), "which cannot be"),
        (START.replace(year=2036), "more than two years after the last record"),
        (START.astimezone(timezone(timedelta(hours=-11))), ""),
    ],
)
def test_a_clock_that_cannot_be_right_is_doubted(tmp_path: Path, now: datetime, doubt: str) -> None:
    with History.open(tmp_path / "history.db", lambda: START) as history:
        history.close_job(NOON)
    with History.open(tmp_path / "history.db", lambda: now) as history:
        assert doubt in history.clock_warning()
        assert bool(doubt) == bool(history.clock_warning())


@pytest.mark.parametrize("wrong", [datetime(1970, 1, 1, tzinfo=UTC), datetime(2099, 1, 1, tzinfo=UTC)])
def test_a_right_clock_is_believed_after_records_of_a_wrong_one(tmp_path: Path, wrong: datetime) -> None:
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
        assert "but the last record is of 2026-11-24T10:00:00Z" in history.clock_warning()
    assert "but the last record is of 2026-11-24T10:00:00Z" in verify(path, lambda: back).clock_warning
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


def test_every_kind_stands_in_the_list_under_its_own_name() -> None:
    assert all(name == kind.name for name, kind in kinds.KINDS.items())
    assert len({id(kind) for kind in kinds.KINDS.values()}) == len(kinds.KINDS)


def test_a_body_with_a_key_its_kind_does_not_have_is_a_fault_of_the_program(history: History) -> None:
    with pytest.raises(TypeError, match="no colour"):
        history.note(kinds.NO_FIT, "", {"colour": "blue"})


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


def test_every_record_is_sealed_by_the_one_before(history: History) -> None:
    history.close_job(NOON, "form-1")
    history.close_job(NOON)
    previous = first_link(history.shop, history.created)
    for record in history.records_since():
        assert record.chain == chain_of(previous, record)
        previous = record.chain
    assert history.tip().chain == previous


def test_text_comes_back_as_it_was_typed(history: History) -> None:
    typed = ' 19,5 V \u202e \u0001 "quoted" 電源 \n\'; DROP TABLE records; -- \U0001f50c '
    job = history.close_job(Confirmation("a/b", model="Tern 13", words=typed, note=typed)).job
    closed = history.job_state(job).closed
    assert closed is not None
    assert (closed.words, closed.note) == (typed, typed)


def test_what_cannot_be_stored_is_replaced_by_a_sign_that_says_so(history: History) -> None:
    job = history.open_job("Tern\x00 13", words="dark \ud800 screen")
    state = history.job_state(job)
    assert (state.model, state.words) == ("Tern\ufffd 13", "dark \ufffd screen")


@pytest.mark.parametrize(
    ("given", "problem"),
    [
        (Confirmation("a/b"), "model is missing"),
        (Confirmation("a/b", model=" "), "model is missing"),
        (Confirmation("jack", model="Tern 13"), "entry/cause"),
        (Confirmation("No-Light/jack", model="Tern 13"), "entry/cause"),
        (Confirmation("a/b/c", model="Tern 13"), "entry/cause"),
        (Confirmation("a/b", model="Tern 13", minutes=-1), "minutes"),
        (Confirmation("a/b", model="Tern 13", minutes=float("nan")), "minutes"),
        (Confirmation("a/b", model="Tern 13", minutes=float("inf")), "minutes"),
        (Confirmation("a/b", model="Tern 13", closed_at="yesterday"), "not a time"),
        (Confirmation("a/b", model="Tern 13", closed_at="2026-11-24T10:00:00"), "not a time in UTC"),
        (Confirmation("a/b", model="T" * 201), "shorten it to 200"),
        (Confirmation("a/b", model="Tern 13", words="w" * 501), "501 characters are too many; shorten it to 500"),
        (Confirmation("a/b", model="Tern 13", note="n" * 20_001), "shorten it to 20000"),
        (Confirmation("a/b", model="Tern 13", outcomes=(Finding("", "dark"),)), "test is missing"),
        (Confirmation("a/b", model="Tern 13", outcomes=(Finding("a/b", "dark"),) * 201), "201 outcomes"),
    ],
)
def test_what_does_not_fit_is_refused_in_a_sentence(history: History, given: Confirmation, problem: str) -> None:
    with pytest.raises(Refusal, match=problem):
        history.close_job(given)
    assert history.tip().count == 0


def test_texts_at_the_limit_are_taken(history: History) -> None:
    history.close_job(Confirmation("a/b", model="T" * 200, words="w" * 500, note="n" * 20_000))
    assert history.tip().count == 1


def test_everything_wrong_with_a_job_is_said_at_once(history: History) -> None:
    with pytest.raises(NotAccepted, match=r"model is missing.*entry/cause.*minutes"):
        history.close_job(Confirmation("jack", minutes=-3))


def test_two_jobs_never_share_an_id(tmp_path: Path) -> None:
    ids = iter(["shop", "one", "two", "two", "one", "three", "two", "four"])
    with History.open(tmp_path / "history.db", lambda: START, lambda: next(ids)) as history:
        jobs = [history.open_job("Tern 13"), history.open_job("Tern 13")]
        records = [record.id for record in history.records_since()]
    assert (jobs, records) == (["one", "three"], ["two", "four"])


def test_ids_are_twelve_characters_without_look_alikes() -> None:
    ids = {random_id() for _ in range(1000)}
    assert len(ids) == 1000
    assert {len(one) for one in ids} == {12}
    assert set("".join(ids)) <= set(ALPHABET)
    assert not set("ilou") & set(ALPHABET)


def test_reading_goes_on_while_jobs_are_added(tmp_path: Path) -> None:
    with History.open(tmp_path / "history.db") as reader, History.open(tmp_path / "history.db") as writer:
        for _ in range(3):
            writer.close_job(NOON)
        reading = reader.records_since()
        assert next(reading).seq == 1
        writer.close_job(NOON)
        assert [record.seq for record in reading] in ([2, 3], [2, 3, 4])
        assert [record.seq for record in reader.records_since(3)] == [4]
