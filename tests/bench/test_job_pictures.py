"""Pictures of jobs: put on open and closed ones, each once, shown with their words, taken back by a record."""

from __future__ import annotations

import pytest
from helpers.photographs import files, photo
from hypothesis import given
from hypothesis import strategies as st

from kb.bench import job_pictures
from kb.bench.front import Bench
from kb.history.jobs import state_of
from kb.history.record import Record
from kb.history.trouble import NotAccepted, UnknownJob
from kb.library.album import LARGEST_FILE, PictureRefused
from kb.model import Confirmation

COLOURS = ("red", "green", "blue")


def captions(bench: Bench, job: str) -> list[str]:
    return [one.caption for _, one in job_pictures.of_job(bench.jobs.job(job), bench)]


def test_pictures_of_a_job_stay_in_their_order_when_it_is_closed_and_retracted(
    bench: Bench,
) -> None:
    job = bench.jobs.begin("no light at all", "Tern 13")
    for colour in COLOURS[:2]:
        job_pictures.add_to(
            job, bench, photo(colour=colour), f"the [{colour}] side", token=colour
        )
    bench.jobs.confirm(Confirmation("no-battery/pack", job=job), untested=True)
    job_pictures.add_to(job, bench, photo(colour="blue"), "after the fix")
    bench.jobs.retract(job, "a mistake")

    assert captions(bench, job) == ["the red side", "the green side", "after the fix"]


def test_a_picture_sent_twice_is_on_the_job_once_by_its_token_and_by_what_is_in_it(
    bench: Bench,
) -> None:
    job = bench.jobs.begin("no light at all", "Tern 13")
    for token in ("once", "once", "again", ""):
        job_pictures.add_to(job, bench, photo(), "the board", token=token)

    assert captions(bench, job) == ["the board"]
    assert len(files(bench)) == 1


def test_a_picture_is_taken_back_by_a_record_once_and_may_come_again(
    bench: Bench,
) -> None:
    job = bench.jobs.begin("no light at all", "Tern 13")
    job_pictures.add_to(job, bench, photo(), "the board")
    bench.jobs.confirm(Confirmation("no-battery/pack", job=job), untested=True)
    record = bench.jobs.job(job).pictures[0].record

    for _ in range(2):
        job_pictures.take_back(job, bench, record, by="JT", token="tap")

    assert captions(bench, job) == []
    assert len(files(bench)) == 1
    with pytest.raises(NotAccepted, match="taken back before"):
        job_pictures.take_back(job, bench, record)
    job_pictures.add_to(job, bench, photo(), "the board once more")
    assert captions(bench, job) == ["the board once more"]


def test_what_is_no_picture_or_of_no_job_leaves_nothing_behind(bench: Bench) -> None:
    job = bench.jobs.begin("no light at all", "Tern 13")

    for sent in (
        b"",
        b"no picture",
        photo()[:200],
        b"<svg/>",
        b"\xff\xd8" + b"\0" * (LARGEST_FILE + 1),
    ):
        with pytest.raises(PictureRefused):
            job_pictures.add_to(job, bench, sent)
    with pytest.raises(UnknownJob):
        job_pictures.add_to("nosuchjob", bench, photo())

    assert (bench.jobs.job(job).pictures, files(bench)) == ((), [])


def test_a_job_takes_twenty_pictures_and_says_what_to_do_about_one_more(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(job_pictures, "MOST_ON_A_JOB", 2)
    job = bench.jobs.begin("no light at all", "Tern 13")
    for colour in COLOURS[:2]:
        job_pictures.add_to(job, bench, photo(colour=colour), token=colour)

    job_pictures.add_to(job, bench, photo(colour="green"), token="green")
    with pytest.raises(PictureRefused, match="2 pictures at most; take one back"):
        job_pictures.add_to(job, bench, photo(colour="blue"), token="blue")


@given(deeds=st.lists(st.tuples(st.booleans(), st.integers(0, 5)), max_size=30))
def test_what_stands_is_what_was_put_there_and_not_taken_back(
    deeds: list[tuple[bool, int]],
) -> None:
    """The fold over the records beside a plain set."""
    standing: dict[str, None] = {}
    records = []
    for seq, (puts, number) in enumerate(deeds):
        named = f"r{number}"
        body = (
            f'{{"file": "job-{number}-1.jpg"}}' if puts else f'{{"record": "{named}"}}'
        )
        kind = "picture" if puts else "picture-back"
        name = named if puts else f"b{seq}"
        records.append(
            Record(seq, name, "j", "s", "2026-01-01T00:00:00Z", kind, body, None, "")
        )
        if puts:
            standing.setdefault(named)
        else:
            standing.pop(named, None)

    assert [one.record for one in state_of("j", records).pictures] == list(standing)
