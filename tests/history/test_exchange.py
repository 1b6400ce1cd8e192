"""Closed jobs as lines of JSON: out, in, and in again."""

from __future__ import annotations

import csv
import json
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers.histories import import_jobs
from helpers.shops import quick_folder
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.history import History, fields, intake, kinds
from kb.history.exchange import (
    ImportReport,
    export_everything,
    export_jobs,
    export_table,
    read_line,
    to_line,
)
from kb.history.moving import FloorLine
from kb.history.verification import verify
from kb.model import Finding, Job, Remark

LEAST = '{"model": "Tern 13", "cause": "no-light/dc-jack", "closed_at": "2026-11-24T10:15:00Z"}'
FULL = Job(
    job="5a1w0tbqr49w",
    model="Tern 13",
    cause="no-light/dc-jack",
    closed_at="2026-11-24T10:15:00Z",
    shop="ypag9s4je8y2",
    unit="T-07",
    words="no light when plugged in",
    minutes=12,
    part="dc jack",
    donor="T-02",
    note="pins bent",
    by="Ada",
    outcomes=(Finding("no-light/try-charger", "still dark"),),
)


@pytest.fixture
def history(tmp_path: Path) -> Iterator[History]:
    with History.open(tmp_path / "history.db") as opened:
        yield opened


def changed(**values: object) -> str:
    return json.dumps({**json.loads(LEAST), **values})


def from_line(text: str, number: int, file: str = "import") -> Job | Remark:
    """The job of one line, or the remark on it."""
    line = read_line(text, number, file)
    assert not isinstance(line, FloorLine)
    return line if isinstance(line, Remark) else line.job


def test_a_line_carries_the_keys_of_the_design() -> None:
    assert json.loads(to_line(FULL)) == {
        "job": "5a1w0tbqr49w",
        "shop": "ypag9s4je8y2",
        "model": "Tern 13",
        "unit": "T-07",
        "words": "no light when plugged in",
        "cause": "no-light/dc-jack",
        "minutes": 12,
        "part": "dc jack",
        "donor": "T-02",
        "outcomes": [{"test": "no-light/try-charger", "outcome": "still dark"}],
        "closed_at": "2026-11-24T10:15:00Z",
        "note": "pins bent",
        "by": "Ada",
    }


def test_a_line_reads_back_as_the_job_it_was() -> None:
    assert from_line(to_line(FULL), 1) == FULL


def test_model_cause_and_time_are_enough() -> None:
    job = from_line(LEAST, 1)
    assert isinstance(job, Job)
    assert (job.model, job.cause, job.closed_at) == (
        "Tern 13",
        "no-light/dc-jack",
        "2026-11-24T10:15:00Z",
    )
    assert (job.unit, job.minutes, job.outcomes) == ("", None, ())


def test_an_id_is_derived_from_the_content_and_nothing_else() -> None:
    first, same = (
        from_line(LEAST, 1),
        from_line(changed(job=None, note="", minutes=None), 7),
    )
    other = from_line(changed(unit="T-08"), 1)
    assert isinstance(first, Job)
    assert isinstance(other, Job)
    assert first == same
    assert len(first.job) == 12
    assert other.job != first.job


def test_a_time_with_an_offset_is_stored_as_utc() -> None:
    job = from_line(changed(closed_at="2026-11-24T23:30:00-05:00"), 1)
    assert isinstance(job, Job)
    assert job.closed_at == "2026-11-25T04:30:00Z"


def test_unknown_keys_and_nulls_are_passed_over() -> None:
    assert from_line(changed(colour="blue", unit=None, outcomes=None), 1) == from_line(
        LEAST, 1
    )


def test_no_line_holds_a_sign_that_some_reader_takes_for_a_line_end() -> None:
    job = replace(FULL, note="a\nb\rc\x0bd\x0ce\x1cf\x85g\u2028h\u2029i")
    line = to_line(job)
    assert len(line.splitlines()) == 1
    assert from_line(line, 1) == job


@pytest.mark.parametrize(
    ("line", "problem", "instead"),
    [
        ("not json", "not a line of JSON", '{"model": "Tern 13"'),
        ('{"model": "Tern 13"', "not a line of JSON", "one job a line"),
        ("[1]", "not a JSON object", "one job a line"),
        ("[" * 200_000, "not a line of JSON", "one job a line"),
        ("{}", "model is missing", "give the model"),
        ("{}", "cause `` is not written entry/cause", "no-light/dc-jack"),
        ("{}", "`` is not a time in UTC", "2026-11-24T10:15:00Z"),
        (changed(cause="dc-jack"), "entry/cause", "lower-case"),
        (changed(cause="../../etc"), "entry/cause", "lower-case"),
        (changed(closed_at="24.11.2026"), "not a time in UTC", "2026-11-24T10:15:00Z"),
        (changed(closed_at="2026-11-24"), "not a time in UTC", "2026-11-24T10:15:00Z"),
        (
            changed(closed_at="2026-11-24T10:15:00"),
            "not a time in UTC",
            "2026-11-24T10:15:00Z",
        ),
        (
            changed(closed_at="0001-01-01T00:00:00+05:00"),
            "not a time in UTC",
            "2026-11-24T10:15:00Z",
        ),
        (changed(minutes=-1), "minutes cannot be -1", "0 or more"),
        (changed(minutes=True), "minutes is not a number", "without quotes"),
        (changed(minutes="12"), "minutes is not a number", "without quotes"),
        (
            changed(minutes=4006381333931),
            "minutes cannot be 4006381333931",
            "0 or more, 10000 at most",
        ),
        (changed(minutes=10**400), "minutes cannot be 1000", "0 or more"),
        (
            LEAST.replace("}", ', "minutes": NaN}'),
            "not a line of JSON",
            "one job a line",
        ),
        (changed(unit=7), "unit is not a text", '"unit": "..."'),
        (changed(model=["Tern"]), "model is not a text", '"model": "..."'),
        (changed(words="w" * 501), "501 characters", "shorten it to 500"),
        (changed(outcomes="dark"), "outcomes is not a list", '"test": "entry/test"'),
        (
            changed(outcomes=[{"test": "a/b"}]),
            "outcomes is not a list",
            '"test": "entry/test"',
        ),
        (changed(retracted=True), "retracted is not a text", '"retracted": "..."'),
        (
            '{"note": "' + "n" * 1_000_000 + '"}',
            "the line has 1000012 characters",
            "under 1000000",
        ),
    ],
)
def test_a_wrong_line_says_what_is_wrong_and_what_to_write(
    line: str, problem: str, instead: str
) -> None:
    remark = from_line(line, 12, "jobs.jsonl")
    assert isinstance(remark, Remark)
    assert (remark.file, remark.line) == ("jobs.jsonl", 12)
    assert problem in remark.problem
    assert instead in remark.instead


def test_a_value_of_the_wrong_type_is_not_reported_as_missing_too() -> None:
    remark = from_line(changed(model=7, cause=8, closed_at=9), 1)
    assert isinstance(remark, Remark)
    assert (
        remark.problem
        == "model is not a text; cause is not a text; closed_at is not a text"
    )


def test_every_wrong_line_is_reported_and_the_others_are_kept(history: History) -> None:
    lines = [LEAST, "{}", "", changed(unit="T-08"), "nonsense\n"]
    report = import_jobs(history, lines, "jobs.jsonl")
    assert (report.added, report.known) == (2, 0)
    assert [remark.line for remark in report.remarks] == [2, 5]
    assert len(list(history.closed_jobs())) == 2


def test_importing_twice_changes_nothing(history: History) -> None:
    lines = [LEAST, to_line(FULL), changed(unit="T-08", retracted="wrong machine")]
    first = import_jobs(history, lines)
    tip, jobs = history.tip(), list(history.closed_jobs())
    again = import_jobs(history, lines)
    assert first == ImportReport(added=3, known=0, remarks=(), retracted=1)
    assert again == ImportReport(added=0, known=3, remarks=())
    assert (history.tip(), list(history.closed_jobs())) == (tip, jobs)


def test_a_known_job_that_says_something_else_is_reported_and_nothing_is_lost(
    history: History,
) -> None:
    import_jobs(history, [to_line(FULL)])
    report = import_jobs(
        history, [to_line(replace(FULL, cause="no-light/mainboard", minutes=40)), LEAST]
    )
    assert (report.added, report.known) == (1, 0)
    (remark,) = report.remarks
    assert remark.line == 1
    assert (
        remark.problem == "job 5a1w0tbqr49w is in the history with other cause, minutes"
    )
    assert "id of its own" in remark.instead
    assert next(history.closed_jobs()) == FULL


def test_lines_without_an_id_that_say_the_same_are_one_job_and_are_named(
    history: History,
) -> None:
    report = import_jobs(history, [LEAST, changed(unit="T-08"), LEAST])
    assert (report.added, report.known, report.repeats) == (2, 1, (3,))


def test_a_machine_between_two_lines_that_say_the_same_hides_no_repeat(
    history: History, tmp_path: Path
) -> None:
    with History.open(tmp_path / "other.db") as other:
        other.note(kinds.UNIT_IN, "", {"tag": "P7-001", "model": "Tern 13"})
        *_, machine = export_everything(other)

    report = import_jobs(history, [LEAST, machine, LEAST])

    assert (report.added, report.floor, report.repeats) == (1, 1, (3,))


def test_all_that_is_exported_is_closed_jobs_and_records_of_the_floor(
    history: History,
) -> None:
    """Openings and retractions are none: a reason goes with its job. The first line says whose history it is."""
    import_jobs(history, [LEAST, to_line(FULL)])
    history.retract(FULL.job, "it was another")
    history.note(kinds.DONOR, "", {"tag": "P7-001", "why": "lid broken"})
    history.open_job("Tern 13", words="still dark")

    lines = [json.loads(line) for line in export_everything(history)]

    assert [line.get("retracted", line.get("kind")) for line in lines] == [
        "moved-in",
        None,
        "it was another",
        "donor",
    ]


def test_a_job_keeps_the_shop_it_comes_from(history: History) -> None:
    import_jobs(history, [to_line(FULL), LEAST])
    assert [job.shop for job in history.closed_jobs()] == ["ypag9s4je8y2", history.shop]


def test_jobs_that_travel_round_through_another_shop_come_back_as_known(
    tmp_path: Path,
) -> None:
    with (
        History.open(tmp_path / "a/history.db") as one,
        History.open(tmp_path / "b/history.db") as other,
    ):
        for history in (one, other):
            import_jobs(history, [LEAST])
        import_jobs(one, [to_line(FULL)])
        assert import_jobs(other, export_jobs(one)) == ImportReport(1, 1, ())
        assert import_jobs(one, export_jobs(other)) == ImportReport(0, 2, ())


def test_a_retraction_travels_with_its_reason(tmp_path: Path) -> None:
    with (
        History.open(tmp_path / "a/history.db") as one,
        History.open(tmp_path / "b/history.db") as other,
    ):
        import_jobs(one, [LEAST, to_line(FULL)])
        import_jobs(other, export_jobs(one))
        one.retract(FULL.job, "it was the charger")

        assert len(list(export_jobs(one))) == 1
        report = import_jobs(other, export_jobs(one, with_retracted=True))

        assert (report.known, report.retracted) == (2, 1)
        assert other.job_state(FULL.job).retracted == "it was the charger"
        assert list(export_jobs(other, with_retracted=True)) == list(
            export_jobs(one, with_retracted=True)
        )


def test_a_line_that_contradicts_a_known_job_does_not_retract_it_either(
    history: History,
) -> None:
    import_jobs(history, [to_line(FULL)])

    report = import_jobs(history, [to_line(replace(FULL, minutes=99), "wrong machine")])

    assert (report.added, report.known, report.retracted, len(report.remarks)) == (
        0,
        0,
        0,
        1,
    )
    assert history.job_state(FULL.job).retracted == ""
    assert [job.minutes for job in history.closed_jobs()] == [12]


def test_a_job_retracted_here_stays_retracted_when_it_comes_in_again(
    history: History,
) -> None:
    import_jobs(history, [to_line(FULL)])
    history.retract(FULL.job, "wrong")
    assert import_jobs(history, [to_line(FULL)]) == ImportReport(0, 1, ())
    assert list(history.closed_jobs()) == []


def test_a_job_still_open_here_is_closed_by_the_line_that_closes_it(
    history: History,
) -> None:
    job = history.open_job("Tern 13")
    report = import_jobs(history, [to_line(replace(FULL, job=job))])
    assert (report.added, history.open_jobs()) == (1, ())


def test_a_byte_order_mark_and_blank_lines_do_no_harm(history: History) -> None:
    assert import_jobs(
        history, ["\ufeff" + LEAST + "\r\n", "\n", " \n", "\ufeff"]
    ) == ImportReport(1, 0, ())


NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)


@pytest.mark.parametrize(
    ("closed_at", "problem"),
    [
        ("9999-12-31T00:00:00Z", "closed_at 9999-12-31T00:00:00Z lies in the future"),
        ("9999-12-31T23:59:59Z", "lies in the future"),
        (
            "2099-06-01T00:00:00Z",
            "lies in the future (the clock here says 2026-11-24T10:15:00Z)",
        ),
        ("2026-11-25T10:15:01Z", "lies in the future"),
        ("1999-12-31T23:59:59Z", "lies before 2000"),
        ("1970-01-01T00:00:00Z", "closed_at 1970-01-01T00:00:00Z lies before 2000"),
        ("0001-01-01T00:00:00Z", "lies before 2000"),
    ],
)
def test_a_line_of_a_day_on_which_no_job_can_have_been_closed_is_named_and_the_others_are_kept(
    tmp_path: Path, closed_at: str, problem: str
) -> None:
    with History.open(tmp_path / "history.db", lambda: NOW) as history:
        report = import_jobs(
            history,
            [LEAST, changed(unit="T-2", closed_at=closed_at), changed(unit="T-3")],
            "old.jsonl",
        )

    assert report.added == 2
    (remark,) = report.remarks
    assert (remark.file, remark.line) == ("old.jsonl", 2)
    assert problem in remark.problem
    assert "write the day on which the job was closed" in remark.instead


@pytest.mark.parametrize("closed_at", ["2000-01-01T00:00:00Z", "2026-11-25T10:15:00Z"])
def test_days_on_which_a_job_can_just_have_been_closed_are_taken(
    tmp_path: Path, closed_at: str
) -> None:
    with History.open(tmp_path / "history.db", lambda: NOW) as history:
        assert import_jobs(history, [changed(closed_at=closed_at)]) == ImportReport(
            1, 0, ()
        )


def test_a_job_that_is_known_with_a_day_that_cannot_be_is_known_all_the_same(
    tmp_path: Path,
) -> None:
    """As when a history from before such days were refused is exported and taken in again."""
    with History.open(tmp_path / "history.db", lambda: NOW) as history:
        history.adopt(replace(FULL, closed_at="1970-01-01T00:00:00Z"))

        assert import_jobs(history, export_jobs(history)) == ImportReport(0, 1, ())


@pytest.mark.slow
def test_ten_thousand_lines_are_read_while_one_waits(history: History) -> None:
    """A second or two on a quiet machine; the bound leaves room for a slow one."""
    lines = [
        changed(unit=f"T-{number}", words="no light when plugged in")
        for number in range(10_000)
    ]
    began = time.process_time()
    assert import_jobs(history, lines).added == 10_000
    assert time.process_time() - began < 8
    assert verify(history.path).ok


TEXT = st.text(st.characters(), max_size=40)
NAME = TEXT.filter(lambda text: bool(text.strip()))
SLUG = st.text("abcdefghijklmnopqrstuvwxyz0123456789-", min_size=1, max_size=12)
JOBS = st.builds(
    Job,
    job=NAME,
    model=NAME,
    cause=st.builds("{}/{}".format, SLUG, SLUG),
    shop=TEXT,
    unit=TEXT,
    words=TEXT,
    closed_at=st.datetimes(
        datetime(2000, 1, 2), datetime(2026, 11, 20), timezones=st.timezones()
    )
    .map(lambda when: when.isoformat())
    .filter(lambda text: text[-3] == ":" and len(text) <= 32),
    minutes=st.none() | st.floats(0, intake.MOST_MINUTES) | st.integers(0, 10_000),
    part=TEXT,
    donor=TEXT,
    note=TEXT,
    by=TEXT,
    outcomes=st.lists(st.builds(Finding, NAME, TEXT), max_size=3).map(tuple),
).map(fields.accepted)


@pytest.mark.slow
@given(JOBS)
def test_law_writing_and_reading_a_line_are_inverse(job: Job) -> None:
    assert from_line(to_line(job), 1) == job
    assert fields.accepted(job) == job


@pytest.mark.slow
@settings(max_examples=20, deadline=None)
@given(st.lists(JOBS, max_size=6, unique_by=lambda job: job.job), st.data())
def test_law_what_is_exported_and_imported_is_the_same_history(
    jobs: list[Job], data: st.DataObject
) -> None:
    wrong = (
        data.draw(st.sets(st.sampled_from([job.job for job in jobs])))
        if jobs
        else set()
    )
    with (
        quick_folder() as folder,
        History.open(folder / "a/history.db") as one,
        History.open(folder / "b/history.db") as other,
    ):
        import_jobs(one, map(to_line, jobs))
        for job in sorted(wrong):
            one.retract(job, "wrong")
        lines = list(export_jobs(one, with_retracted=True))

        assert import_jobs(other, lines) == ImportReport(len(jobs), 0, (), len(wrong))

        assert list(export_jobs(other, with_retracted=True)) == lines
        assert list(other.closed_jobs()) == list(one.closed_jobs())
        assert {
            replace(job, shop="") for job in one.closed_jobs(include_retracted=True)
        } == {replace(job, shop="") for job in jobs}
        assert import_jobs(other, lines) == ImportReport(0, len(jobs), ())


@given(
    st.text(max_size=200)
    | st.recursive(
        st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=20),
        lambda inner: (
            st.lists(inner, max_size=3)
            | st.dictionaries(
                st.sampled_from(
                    [
                        "job",
                        "model",
                        "cause",
                        "closed_at",
                        "minutes",
                        "outcomes",
                        "retracted",
                    ]
                ),
                inner,
            )
        ),
        max_leaves=12,
    ).map(json.dumps)
)
def test_law_any_line_gives_a_job_or_a_remark(line: str) -> None:
    found = from_line(line, 3)
    assert isinstance(found, Job) or (
        found.line == 3 and found.problem and found.instead
    )


def test_where_a_machine_stood_is_kept_here_and_told_to_no_other_shop(
    history: History,
) -> None:
    placed = replace(FULL, place="shelf 4")
    history.adopt(placed)
    lines = list(export_jobs(history))

    assert next(history.closed_jobs()) == placed
    assert "shelf 4" not in "".join(lines)
    assert import_jobs(history, lines) == ImportReport(added=0, known=1, remarks=())


def test_a_table_has_a_line_a_job_with_its_outcomes_minutes_and_why_it_was_retracted(
    history: History,
) -> None:
    history.adopt(FULL)
    history.adopt(
        replace(FULL, job="another", minutes=None, outcomes=(), note="écran noir")
    )
    history.retract("another", "came twice")

    text = "".join(export_table(history, with_retracted=True))
    first, second = csv.DictReader(text.splitlines())

    assert (first["minutes"], first["outcomes"], first["model"]) == (
        "12",
        "no-light/try-charger: still dark",
        "Tern 13",
    )
    assert (first["retracted"], second["retracted"]) == ("", "came twice")
    assert (second["minutes"], second["outcomes"], second["note"]) == (
        "",
        "",
        "écran noir",
    )


def test_jobs_of_the_very_moment_asked_for_are_exported_and_earlier_ones_are_not(
    history: History,
) -> None:
    history.adopt(FULL)

    assert [
        json.loads(line)["job"] for line in export_jobs(history, since=FULL.closed_at)
    ] == [FULL.job]
    assert list(export_jobs(history, since="2026-11-24T10:15:01Z")) == []


def test_letters_with_accents_stand_in_a_line_as_they_are() -> None:
    assert '"écran noir"' in to_line(replace(FULL, note="écran noir"))
