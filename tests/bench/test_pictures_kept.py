"""Pictures kept: in a backup, after a restore and a move, and each that is missing, changed or foreign is named."""

from __future__ import annotations

import base64
import json
from io import BytesIO
from pathlib import Path

import pytest
from helpers.floors import came_in
from helpers.photographs import files, opened, photo
from helpers.places import CORPUS
from PIL import Image

from kb.bench import job_pictures, machine_pictures, pictures_kept
from kb.bench.front import Bench
from kb.bench.machine_pictures import of_machine
from kb.bench.past import PastAsked
from kb.bench.pictures_kept import PicturesKept
from kb.history.copies import backup as keeping
from kb.history.exchange import ImportReport, export_everything, export_jobs
from kb.library.drawing import Mark
from kb.library.editing import Reference, with_picture
from kb.library.shelf import digest
from kb.model import Confirmation


@pytest.fixture
def other(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "other", stock=CORPUS)


@pytest.fixture
def pictured(bench: Bench) -> Bench:
    """A closed job with a picture that stands and one that was taken back, and a machine with one."""
    came_in(bench)
    job = bench.jobs.begin("no light at all", "Tern 13")
    for colour in ("red", "green"):
        job_pictures.add_to(job, bench, photo(colour=colour), f"{colour} board")
    bench.jobs.confirm(Confirmation("no-battery/pack", job=job), untested=True)
    job_pictures.take_back(job, bench, bench.jobs.job(job).pictures[1].record)
    bench.machines.add_picture("P7-001", photo(colour="blue"), "the lid")
    return bench


def job_of(bench: Bench) -> str:
    return next(iter(bench.history().closed_jobs())).job


def everything(bench: Bench) -> list[str]:
    return list(
        export_everything(
            bench.history(), lambda file: pictures_kept.fetch(bench.shop, file)
        )
    )


def moved(lines: list[str], to: Bench, dry: bool = False) -> ImportReport:
    data = "".join(f"{line}\n" for line in lines).encode()
    return to.past.read(data, PastAsked(), "all.jsonl", dry).report


def test_a_backup_brings_every_picture_back_as_it_was(
    pictured: Bench, other: Bench, tmp_path: Path
) -> None:
    before = pictures_kept.kept(pictured.shop)
    keeping.backup(pictured.folder, tmp_path / "b.zip", pictured.shop.clock())

    keeping.restore(tmp_path / "b.zip", other.folder, other.shop.clock())

    assert before == pictures_kept.kept(other.shop) == PicturesKept(2, (), ())
    assert [
        one.caption
        for _, one in job_pictures.of_job(other.jobs.job(job_of(other)), other)
    ] == ["red board"]
    assert files(other) == files(pictured)


def test_a_picture_that_is_missing_changed_or_foreign_is_named(pictured: Bench) -> None:
    album = pictured.entries.album().folder
    missing = pictured.jobs.job(job_of(pictured)).pictures[0].file
    (album / missing).unlink()
    (changed,) = album.glob("machine-*")
    changed.write_bytes(photo(colour="pink"))
    (album / "job-0123456789abcdef-1.jpg").write_bytes(photo())
    (album / "run\x1bme.exe").write_bytes(b"MZ")
    (album / "no-battery-1.jpg").write_bytes(photo())
    pictured.entries.save("no-battery", *_with_its_picture(pictured))

    found = pictures_kept.kept(pictured.shop)

    assert [
        problem.split("pictures/")[1].split(";")[0] for problem in found.problems
    ] == [
        f"{changed.name} is not the one that was taken in",
        f"{missing} is missing",
    ]
    assert all(
        problem.endswith("take it out of a backup") for problem in found.problems
    )
    assert found.foreign == ("job-0123456789abcdef-1.jpg", "run\x1bme.exe")


def _with_its_picture(bench: Bench) -> tuple[str, str]:
    """A text that names a picture of its own, and the digest of the text that it changes."""
    sheet = bench.entries.on_file("no-battery")
    assert sheet
    return with_picture(sheet.text, Reference("no-battery-1.jpg", "the plug")), digest(
        sheet.text
    )


def test_of_many_that_are_missing_ten_are_named_and_the_rest_counted(
    pictured: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    for file in files(pictured):
        (pictured.entries.album().folder / file).unlink()
    monkeypatch.setattr(pictures_kept, "MOST_NAMED", 1)

    assert pictures_kept.kept(pictured.shop).problems[1:] == ("and 1 pictures more",)


def test_a_marked_picture_of_a_machine_moves_with_everything_in_place_of_its_original(
    pictured: Bench, other: Bench
) -> None:
    ((note, _),) = of_machine(pictured.machines.unit("P7-001"), pictured)
    machine_pictures.mark("P7-001", pictured, note.record, Mark("ring", 0.5, 0.5))

    moved(everything(pictured), other)

    ((marked, picture),) = of_machine(other.machines.unit("P7-001"), other)
    assert (picture.caption, marked.of) == (
        "the lid",
        note.text.partition("pictures/")[2][:-1],
    )
    assert pictures_kept.kept(other.shop).problems == ()


def test_pictures_move_with_everything_drawn_anew_and_twice_changes_nothing(
    pictured: Bench, other: Bench
) -> None:
    job_pictures.add_to(
        pictured.jobs.begin("dim", "Tern 13"),
        pictured,
        photo(colour="black"),
        "of an open job",
    )
    lines = everything(pictured)
    assert not [line for line in lines if "of an open job" in line]

    moved(lines, other)
    once = files(other), other.history().tip()
    moved(lines, other)
    moved(lines, pictured)

    job = other.jobs.job(job_of(other))
    assert [one.caption for _, one in job_pictures.of_job(job, other)] == ["red board"]
    assert [
        one.caption for _, one in of_machine(other.machines.unit("P7-001"), other)
    ] == ["the lid"]
    assert pictures_kept.kept(other.shop) == PicturesKept(2, (), ())
    assert (files(other), other.history().tip()) == once
    assert pictures_kept.kept(pictured.shop).foreign == ()


def test_pictures_stay_at_home_where_jobs_go_to_other_shops_and_a_dry_run_writes_none(
    pictured: Bench, other: Bench
) -> None:
    told = "\n".join(export_jobs(pictured.history(), with_retracted=True))
    assert "picture" not in told
    assert "board" not in told

    moved(everything(pictured), other, dry=True)

    assert files(other) == []


HOSTILE = (
    ({"file": "../../history.db"}, "", "no name of a picture"),
    ({"file": "job-0123456789abcdef-1.jpg"}, "TVqQAAM=", "not a picture"),
    ({"file": "job-0123456789abcdef-1.jpg"}, "no base64!", "base64"),
    ({"file": "job-0123456789abcdef-1.jpg"}, "é", "base64"),
    ({"file": "job-0123456789abcdef-1.jpg", "more": "x"}, "", "has no more"),
)


def test_a_line_with_a_hostile_picture_is_refused_and_writes_no_file(
    pictured: Bench,
) -> None:
    before, job = files(pictured), job_of(pictured)
    told = [
        {"kind": "picture", "record": "r", "job": job, "body": body, "picture": sent}
        for body, sent, _ in HOSTILE
    ]

    report = moved([json.dumps(one) for one in told], pictured)

    assert len(report.remarks) == len(HOSTILE)
    for remark, (_, _, why) in zip(report.remarks, HOSTILE, strict=True):
        assert why in remark.problem
        assert remark.instead
    assert files(pictured) == before
    assert len(pictured.jobs.job(job).pictures) == 1


def test_a_program_behind_a_picture_in_a_line_does_not_come_along(
    pictured: Bench, other: Bench
) -> None:
    lines = everything(pictured)
    (number,) = [
        n
        for n, line in enumerate(lines)
        if json.loads(line).get("picture") and '"picture"' in line[:20]
    ]
    told = json.loads(lines[number])
    out = BytesIO()
    Image.new("RGB", (30, 20), "red").save(out, "JPEG", comment=b"secret customer")
    told["picture"] = base64.b64encode(out.getvalue() + b"MZ program").decode()
    lines[number] = json.dumps(told)

    moved(lines, other)

    path = other.entries.album().path(other.jobs.job(job_of(other)).pictures[0].file)
    assert path
    drawn = path.read_bytes()
    assert b"secret" not in drawn
    assert b"MZ" not in drawn
    assert opened(drawn).size == (30, 20)
