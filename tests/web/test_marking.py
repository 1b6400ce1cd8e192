"""Marking: one tap on a picture of a sheet or job, told by x and y without script, and the picture without it again."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from helpers.editing import own_file
from helpers.floors import came_in
from helpers.photographs import SLUG, files, send
from helpers.visiting import HOME, Visitor
from PIL import Image
from security.allowed import strange

from kb.bench import job_pictures, machine_pictures, pictures_kept
from kb.bench.front import Bench
from kb.bench.pictures_kept import PicturesKept
from kb.library.album import Picture
from webui.marking import SPOTS, size_shown

pytestmark = pytest.mark.shop("stocked")


def tap(visitor: Visitor, page: str, **more: str) -> int:
    """Tap the picture on that page, as a browser without script tells it."""
    form = next(
        form for form in visitor.go(page).forms if form.action.endswith("/mark")
    )
    data = {**form.fields, "shape": "ring", "spot": "middle", **more}
    answer = visitor.client.post(
        form.action, data=data, base_url=HOME, headers={"Origin": HOME}
    )
    visitor.go(answer.headers.get("Location", "/"))
    return answer.status_code


def is_marked_at(bench: Bench, file: str, x: float, y: float) -> bool:
    """Whether the reddest column and row of a blue picture are around that place."""
    path = bench.entries.album().path(file)
    assert path
    red = (
        Image.open(path)
        .convert("RGB")
        .getchannel("R")
        .point(lambda value: 255 if value > 120 else 0)
    )
    left, top, right, bottom = red.getbbox() or (0, 0, 0, 0)
    return ((left + right) / 2, (top + bottom) / 2) == pytest.approx((x, y), abs=12)


def test_a_tap_on_a_picture_of_a_sheet_shows_a_ringed_copy_in_its_place_and_back(
    bench: Bench, visitor: Visitor
) -> None:
    send(visitor, blue(), "the plug")
    assert f'href="/entry/{SLUG}/pictures/mark?file={SLUG}-1.jpg"' in visitor.page.html
    page = f"/entry/{SLUG}/pictures/mark?file={SLUG}-1.jpg"
    width, height = size_shown(Picture("", "", 800, 600))
    assert (
        f'<input type="image" name="at" src="/entry/pictures/{SLUG}-1.jpg" width="{width}" height="{height}"'
        in (visitor.go(page).html)
    )
    assert strange(visitor.page.html) == []

    status = tap(visitor, page, **{"at.x": str(width // 4), "at.y": str(height // 2)})

    assert status == 303
    marked = f"{SLUG}-1-mark-1.jpg"
    assert f"![the plug](pictures/{marked})" in own_file(bench).read_text()
    assert is_marked_at(bench, marked, 200, 300)
    assert files(bench) == [f"{SLUG}-1-mark-1.jpg", f"{SLUG}-1.jpg"]
    assert pictures_kept.kept(bench.shop).foreign == ()

    visitor.press("Without the marks")
    assert f"![the plug](pictures/{SLUG}-1.jpg)" in own_file(bench).read_text()
    assert files(bench) == [f".kept/{marked}", f"{SLUG}-1.jpg"]


def test_two_taps_at_once_draw_one_ring_and_a_removed_picture_takes_its_copies_along(
    bench: Bench, visitor: Visitor
) -> None:
    send(visitor, blue())
    page = f"/entry/{SLUG}/pictures/mark?file={SLUG}-1.jpg"
    form = next(
        form for form in visitor.go(page).forms if form.action.endswith("/mark")
    )
    for _ in range(2):
        data = {**form.fields, "at.x": "20", "at.y": "20"}
        assert (
            visitor.client.post(
                form.action, data=data, base_url=HOME, headers={"Origin": HOME}
            ).status_code
            == 303
        )
    assert files(bench) == [f"{SLUG}-1-mark-1.jpg", f"{SLUG}-1.jpg"]

    visitor.go(f"/entry/{SLUG}")
    visitor.press("Remove this picture")

    assert files(bench) == [f".kept/{SLUG}-1-mark-1.jpg", f".kept/{SLUG}-1.jpg"]
    assert "pictures/" not in own_file(bench).read_text()


def test_a_picture_of_a_job_is_marked_once_by_two_taps_and_shown_without_again(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin("no light at all", "Tern 13")
    file = job_pictures.add_to(job, bench, blue(), "the board")
    record = bench.jobs.job(job).pictures[0].record
    page = f"/job/{job}/mark?record={record}"
    form = next(
        form for form in visitor.go(page).forms if form.action.endswith("/mark")
    )

    for _ in range(2):
        data = {**form.fields, "shape": "arrow", "at.x": "300", "at.y": "200"}
        assert (
            visitor.client.post(
                form.action, data=data, base_url=HOME, headers={"Origin": HOME}
            ).status_code
            == 303
        )

    (one,) = bench.jobs.job(job).pictures
    assert (one.of, one.caption, one.file != file) == (file, "the board", True)
    assert len(files(bench)) == 2
    assert pictures_kept.kept(bench.shop) == PicturesKept(1, (), ())
    visitor.go(f"/job/{job}")
    visitor.press("Without the marks")
    (one,) = bench.jobs.job(job).pictures
    assert (one.file, one.of, one.caption) == (file, "", "the board")


def test_a_picture_of_a_machine_is_marked_once_by_two_taps_and_shown_without_again(
    bench: Bench, visitor: Visitor
) -> None:
    came_in(bench, "P7-001")
    bench.machines.add_picture("P7-001", blue(), "the lid")
    visitor.go("/u/P7-001")
    page = visitor.page.link("Mark a place")
    form = next(
        form for form in visitor.go(page).forms if form.action.endswith("/mark")
    )

    for _ in range(2):
        data = {**form.fields, "shape": "ring", "at.x": "85", "at.y": "127"}
        assert (
            visitor.client.post(
                form.action, data=data, base_url=HOME, headers={"Origin": HOME}
            ).status_code
            == 303
        )

    ((note, picture),) = machine_pictures.of_machine(
        bench.machines.unit("P7-001"), bench
    )
    assert (picture.caption, picture.file != note.of) == ("the lid", True)
    assert is_marked_at(bench, picture.file, 200, 300)
    assert sorted(files(bench)) == sorted([picture.file, note.of])
    assert pictures_kept.kept(bench.shop) == PicturesKept(1, (), ())
    visitor.go("/u/P7-001")
    visitor.press("Without the marks")
    ((unmarked, plain),) = machine_pictures.of_machine(
        bench.machines.unit("P7-001"), bench
    )
    assert (plain.file, plain.caption, unmarked.of) == (note.of, "the lid", "")


def test_whoever_cannot_tap_chooses_from_nine_places(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin("no light at all", "Tern 13")
    job_pictures.add_to(job, bench, blue())
    page = f"/job/{job}/mark?record={bench.jobs.job(job).pictures[0].record}"
    told = re.findall(r'<option value="(\w+)"', visitor.go(page).html)
    assert told == list(SPOTS)

    tap(visitor, page, spot="topright", **{"at.x": "0", "at.y": "0"})

    assert is_marked_at(bench, bench.jobs.job(job).pictures[0].file, 800 * 5 / 6, 100)


@pytest.mark.parametrize("value", ["-5", "1e9", "99999999", "x", "", "٣"])
def test_a_tap_that_is_none_marks_the_middle_or_the_edge_and_nothing_breaks(
    bench: Bench, visitor: Visitor, value: str
) -> None:
    job = bench.jobs.begin("no light at all", "Tern 13")
    job_pictures.add_to(job, bench, blue())
    page = f"/job/{job}/mark?record={bench.jobs.job(job).pictures[0].record}"

    assert (
        tap(
            visitor,
            page,
            **{"at.x": value, "at.y": value, "spot": "nowhere", "shape": "skull"},
        )
        == 303
    )

    assert is_marked_at(bench, bench.jobs.job(job).pictures[0].file, 400, 300)


def test_a_picture_that_is_not_there_cannot_be_marked(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin("no light at all", "Tern 13")
    for address in (
        f"/job/{job}/mark?record=none",
        "/job/none/mark?record=none",
        "/u/none/mark?record=none",
        f"/entry/{SLUG}/pictures/mark?file=../../history.db",
        "/entry/none/pictures/mark?file=a-1.jpg",
    ):
        assert visitor.go(address).status == 404, address


def blue() -> bytes:
    image = Image.new("RGB", (800, 600), "blue")
    out = BytesIO()
    image.save(out, "JPEG")
    return out.getvalue()
