"""Units out of records: what each kind says of a machine, in any order, with struck ones, before and after a copy."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.history import History, kinds
from kb.history.intake import tag_key
from kb.history.kinds import Kind
from kb.history.ledger import Ledger
from kb.history.record import Record
from kb.history.trouble import NotAccepted, UnknownJob
from kb.history.units import WAS_AWAY, Unit, tags_named, unit_of
from kb.model import Confirmation

START = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)
TAG = "P7-012"
CAUSE = "no-light/dc-jack"


@pytest.fixture
def history(tmp_path: Path) -> Iterator[History]:
    minutes = itertools.count()
    with History.open(
        tmp_path / "history.db", lambda: START + timedelta(minutes=next(minutes))
    ) as opened:
        yield opened


def unit(history: History, tag: str = TAG) -> Unit:
    """The machine of a tag out of all records that concern it."""
    key = tag_key(tag)
    records = list(history.records_since())
    jobs = {
        record.job for record in records if key in tags_named(record) and record.job
    }
    return unit_of(
        key,
        [
            record
            for record in records
            if key in tags_named(record) or _concerns(record, jobs)
        ],
    )


def _concerns(record: Record, jobs: set[str]) -> bool:
    return record.job in jobs or record.kind == kinds.STRUCK.name


def note(history: History, kind: Kind, **body: object) -> Record:
    return history.note(kind, "", body)


def test_a_machine_exists_as_soon_as_a_job_names_its_tag(history: History) -> None:
    history.open_job("Tern 13", TAG, "no light")

    found = unit(history, "p7 - 012")

    assert (found.tag, found.model, len(found.open_jobs)) == (TAG, "Tern 13", 1)


def test_a_later_arrival_corrects_and_what_it_leaves_empty_stays(
    history: History,
) -> None:
    note(
        history,
        kinds.UNIT_IN,
        tag=TAG,
        model="unknown",
        lot="P7",
        place="A1",
        words="dead",
    )
    note(history, kinds.UNIT_IN, tag="p7-012", model="Tern 13")

    found = unit(history)

    assert (found.model, found.lot, found.place, found.words) == (
        "Tern 13",
        "P7",
        "A1",
        "dead",
    )


def test_the_last_place_counts_whether_it_was_moved_or_came_in_again(
    history: History,
) -> None:
    note(history, kinds.UNIT_IN, tag=TAG, model="Tern 13", place="A1")
    note(history, kinds.UNIT_MOVED, tag=TAG, place="B2")
    assert unit(history).place == "B2"

    note(history, kinds.UNIT_IN, tag=TAG, model="Tern 13", place="C3")
    assert unit(history).place == "C3"


def test_a_closed_job_says_where_the_machine_was_put_unless_it_was_retracted(
    history: History,
) -> None:
    note(history, kinds.UNIT_IN, tag=TAG, model="Tern 13", place="A1")
    job = history.close_job(
        Confirmation(CAUSE, model="Tern 13", unit=TAG, place="D4")
    ).job
    assert unit(history).place == "D4"

    history.retract(job, "wrong machine")
    assert unit(history).place == "A1"


def test_several_faults_are_several_jobs_of_one_machine(history: History) -> None:
    first = history.open_job("Tern 13", TAG, "no light")
    history.open_job("Tern 13", "p7-012", "keys dead")
    history.close_job(Confirmation(CAUSE, job=first, by="Ada"))

    found = unit(history)

    assert len(found.jobs) == 2
    assert [job.words for job in found.open_jobs] == ["keys dead"]
    assert found.repairers == {"ada"}


def test_a_tag_under_which_only_floor_records_stand_is_no_job(history: History) -> None:
    Ledger.open(history.path).append(
        kinds.FUNCTION.name, TAG, {"tag": TAG, "line": "lid", "shown": "good"}
    )

    with pytest.raises(UnknownJob):
        history.job_state(TAG)
    with pytest.raises(UnknownJob):
        history.full_id("p7")


def test_a_wanted_part_ends_with_the_close_that_names_it(history: History) -> None:
    job = history.open_job("Tern 13", TAG, "no battery")
    history.note(kinds.PART_WANTED, job, {"tag": TAG, "part": "battery"})
    history.note(kinds.PART_WANTED, job, {"tag": TAG, "part": "fan"})
    assert [one.part for one in unit(history).wanted] == ["battery", "fan"]

    history.close_job(Confirmation(CAUSE, job=job, part="battery"))

    assert [one.part for one in unit(history).wanted] == ["fan"]


def test_a_need_of_a_job_that_was_put_away_is_none(history: History) -> None:
    job = history.open_job("Tern 13", TAG, "no battery")
    history.note(kinds.PART_WANTED, job, {"tag": TAG, "part": "battery"})

    history.retract(job, "came back working")

    assert unit(history).wanted == ()


def test_a_confirmation_with_a_donor_is_a_part_that_left_it(history: History) -> None:
    history.close_job(
        Confirmation(CAUSE, "Tern 13", unit=TAG, part="fan", donor="P7-020")
    )

    given = unit(history, "P7-020").moved

    assert [(one.part, tag_key(one.tag), one.good) for one in given] == [
        ("fan", "p7-012", "yes")
    ]
    assert unit(history, "P7-020").jobs == ()
    assert unit(history).jobs != ()


def test_a_retracted_confirmation_gives_the_part_back_but_stays_work(
    history: History,
) -> None:
    job = history.close_job(
        Confirmation(CAUSE, "Tern 13", unit=TAG, part="fan", donor="P7-020", by="Ada")
    ).job

    history.retract(job, "it was the board")

    assert unit(history, "P7-020").moved == ()
    assert unit(history).repairers == {"ada"}


def test_a_donor_that_was_given_back_is_none(history: History) -> None:
    note(history, kinds.DONOR, tag=TAG, why="board dead")
    assert (unit(history).is_donor, unit(history).donor) == (True, "board dead")

    note(history, kinds.UNDONOR, tag=TAG, why="a board came")
    assert not unit(history).is_donor


def test_what_was_struck_was_never_so(history: History) -> None:
    gone = note(history, kinds.GONE, tag=TAG, how="sold", cents=9900)
    assert (unit(history).gone, unit(history).gone_cents) == ("sold", 9900)

    note(history, kinds.STRUCK, record=gone.id, why="another machine")

    assert unit(history).gone == ""


def test_a_signature_by_who_repaired_has_no_power(history: History) -> None:
    history.close_job(Confirmation(CAUSE, "Tern 13", unit=TAG, by="ada "))
    note(history, kinds.SIGNED, tag=TAG, by="Ada")
    assert not unit(history).is_signed

    note(history, kinds.SIGNED, tag=TAG, by="Bo")
    assert unit(history).is_signed


@pytest.mark.parametrize("after", ["a job opened", "a line failed", "a repair"])
def test_a_signature_falls_with_what_comes_after_it(
    history: History, after: str
) -> None:
    note(history, kinds.SIGNED, tag=TAG, by="Bo")
    if after == "a job opened":
        history.open_job("Tern 13", TAG, "keys dead")
    elif after == "a line failed":
        note(history, kinds.FUNCTION, tag=TAG, line="lid", shown="bad")
    else:
        history.close_job(Confirmation(CAUSE, "Tern 13", unit=TAG, by="Ada"))

    assert not unit(history).is_signed


def test_the_last_word_on_a_line_counts(history: History) -> None:
    note(history, kinds.FUNCTION, tag=TAG, line="every key", shown="bad", by="Ada")
    note(history, kinds.FUNCTION, tag=TAG, line="every key", shown="good", by="Bo")

    line = unit(history).lines["every key"]

    assert (line.shown, line.by) == ("good", "Bo")


@pytest.mark.parametrize(
    ("kind", "body", "problem"),
    [
        (
            kinds.FUNCTION,
            {"tag": TAG, "line": "lid", "shown": "fine"},
            "`fine` is none of good",
        ),
        (kinds.UNIT_IN, {"tag": "  "}, "tag is missing"),
        (kinds.LOT, {"lot": "P7", "cents": -1}, "price cannot be -1"),
        (kinds.LOT, {"lot": "P7", "cents": "12.50"}, "price cannot be 12.50"),
        (kinds.LOT, {"lot": "P7", "bought_on": "24.11.2026"}, "is no day"),
        (kinds.STRUCK, {"record": "x", "why": " "}, "reason is missing"),
    ],
)
def test_what_a_kind_does_not_take_is_said(
    history: History, kind: Kind, body: dict[str, object], problem: str
) -> None:
    with pytest.raises(NotAccepted, match=problem):
        history.note(kind, "", body)

    assert not list(history.records_since())


ACTS = st.sampled_from(
    [
        "in",
        "moved",
        "good",
        "bad",
        "want",
        "open",
        "close",
        "donor",
        "undonor",
        "sign",
        "gone",
        "strike",
        "retract",
    ]
)


@given(st.lists(ACTS, max_size=14), st.lists(ACTS, max_size=6))
def test_law_records_of_other_machines_change_nothing(
    acts: list[str], others: list[str]
) -> None:
    alone = _played([(TAG, act) for act in acts])
    mixed = _played(
        [pair for both in itertools.zip_longest(acts, others) for pair in _pairs(*both)]
    )

    key = tag_key(TAG)
    assert _told(unit_of(key, _of(key, alone))) == _told(unit_of(key, _of(key, mixed)))


@given(st.lists(ACTS, max_size=14))
def test_law_striking_every_record_of_the_floor_leaves_what_the_jobs_tell(
    acts: list[str],
) -> None:
    records = _played([(TAG, act) for act in acts])
    floor = [
        record
        for record in records
        if record.kind in {kind.name for kind in kinds.OF_THE_FLOOR}
    ]
    struck = [
        *records,
        *(
            _record(len(records) + n, "struck", {"record": one.id})
            for n, one in enumerate(floor, 1)
        ),
    ]

    found = unit_of(tag_key(TAG), struck)

    assert not found.lines
    assert not found.wanted
    assert not found.is_donor
    assert not found.gone
    assert not found.signature
    assert [job.job for job in found.jobs] == [
        job.job for job in unit_of(tag_key(TAG), records).jobs
    ]


def _pairs(mine: str | None, other: str | None) -> Iterator[tuple[str, str]]:
    if mine:
        yield TAG, mine
    if other:
        yield "P7-099", other


def _record(seq: int, kind: str, body: dict[str, object], job: str = "") -> Record:
    from kb.history.record import canonical

    return Record(
        seq,
        f"r{seq:011d}",
        job,
        "shop",
        f"2026-11-24T10:{seq % 60:02d}:00Z",
        kind,
        canonical(body),
        None,
        "",
    )


def _played(acts: list[tuple[str, str]]) -> list[Record]:
    """The records of these acts on machines, as the door would let them in."""
    records: list[Record] = []
    open_jobs: dict[str, list[str]] = {}
    for tag, act in acts:
        seq = len(records) + 1
        mine = [one for one in records if tag_key(tag) in tags_named(one)]
        body: dict[str, object] = {"tag": tag}
        jobs = open_jobs.setdefault(tag, [])
        match act:
            case "open":
                jobs.append(f"j-{tag}-{len(mine)}")
                records.append(
                    _record(seq, "open", {"unit": tag, "model": "Tern 13"}, jobs[-1])
                )
            case "close" if jobs:
                records.append(
                    _record(
                        seq,
                        "close",
                        {"unit": tag, "model": "T", "cause": CAUSE},
                        jobs.pop(),
                    )
                )
            case "retract" if jobs:
                records.append(_record(seq, "retract", {"why": "put away"}, jobs.pop()))
            case "strike" if mine:
                records.append(
                    _record(seq, "struck", {"record": mine[-1].id, "why": "wrong"})
                )
            case "good" | "bad":
                records.append(
                    _record(seq, "function", body | {"line": "lid", "shown": act})
                )
            case "in":
                records.append(
                    _record(
                        seq,
                        "unit-in",
                        body | {"model": "Tern 13", "place": f"A{len(mine)}"},
                    )
                )
            case "moved":
                records.append(
                    _record(seq, "unit-moved", body | {"place": f"B{len(mine)}"})
                )
            case "want":
                records.append(_record(seq, "part-wanted", body | {"part": "fan"}))
            case "donor" | "undonor":
                records.append(_record(seq, act, body | {"why": "x"}))
            case "sign":
                records.append(_record(seq, "signed", body | {"by": "Bo"}))
            case "gone":
                records.append(_record(seq, "gone", body | {"how": "sold", "cents": 1}))
    return records


def _of(key: str, records: list[Record]) -> list[Record]:
    jobs = {
        record.job for record in records if key in tags_named(record) and record.job
    }
    ids = {record.id for record in records if key in tags_named(record)}
    return [
        one
        for one in records
        if one.id in ids or one.job in jobs or one.kind == "struck"
    ]


def _told(found: Unit) -> tuple[object, ...]:
    """What a unit tells without the numbers of records, which others shift."""
    lines = {name: line.shown for name, line in found.lines.items()}
    wanted = [one.part for one in found.wanted]
    jobs = [(job.job, job.closed is not None, job.retracted) for job in found.jobs]
    return (
        found.place,
        found.model,
        lines,
        wanted,
        jobs,
        found.is_donor,
        found.gone,
        found.is_signed,
    )


@pytest.mark.parametrize(
    ("days", "why", "away"), [(0, "a slip", 0), (2, "a slip", 1), (0, WAS_AWAY, 1)]
)
def test_what_comes_back_after_a_day_or_with_a_fault_was_away_and_a_slip_was_not(
    tmp_path: Path, days: int, why: str, away: int
) -> None:
    now = [START]
    with History.open(tmp_path / "history.db", lambda: now[0]) as history:
        note(history, kinds.UNIT_IN, tag=TAG, model="Tern 13")
        left = note(history, kinds.GONE, tag=TAG, how="sold")
        now[0] += timedelta(days=days, minutes=5)
        note(history, kinds.STRUCK, record=left.id, why=why)

        back = unit(history)

    assert (back.gone, len(back.came_back)) == ("", away)
