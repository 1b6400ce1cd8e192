"""Pictures beside the entries: drawn anew, upright, without place and time, few, small, and only of their own names."""

from __future__ import annotations

import os
import struct
import threading
import time
import zipfile
import zlib
from io import BytesIO
from pathlib import Path

import pytest
from helpers.photographs import SLUG, files, opened, photo, send
from helpers.visiting import HOME, Visitor
from PIL import Image, ImageCms

from kb.bench.front import Bench
from kb.history.copies.backup import backup
from kb.library import album, editing
from kb.library.album import (
    LARGEST_FILE,
    LONGEST_SIDE,
    MOST_PICTURES,
    PictureRefused,
    redrawn,
    scans,
)
from kb.library.shelf import digest, stock_folder
from kb.model import Entry
from webui.app import create_app

#: Tags of Exif 2.32 (CIPA DC-008-2019), tables 4 and 15.
ORIENTATION, DESCRIPTION, GPS = 0x0112, 0x010E, 0x8825

pytestmark = pytest.mark.shop("stocked")


@pytest.fixture
def visitor(bench: Bench) -> Visitor:
    return Visitor(create_app(bench))


def png_claiming(width: int, height: int) -> bytes:
    """A few bytes that say they are a picture of that size (PNG, ISO/IEC 15948: header, data, end)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data))
            + name
            + data
            + struct.pack(">I", zlib.crc32(name + data))
        )

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\x00"))
        + chunk(b"IEND", b"")
    )


def own_text(bench: Bench) -> str:
    return (bench.folder / "entries" / f"{SLUG}.md").read_text()


def entry_of(bench: Bench) -> Entry:
    entry = bench.entries.entry(SLUG)
    assert entry
    return entry


# Drawing anew


def test_a_picture_taken_sideways_stands_upright() -> None:
    """Orientation 6: the first row of the file is the right-hand side of the scene (Exif 2.32, tag 274)."""
    exif = Image.Exif()
    exif[ORIENTATION] = 6

    image = opened(redrawn(photo((60, 40), exif=exif)))

    assert image.size == (40, 60)
    red, green, blue = image.convert("RGB").getpixel((30, 10))  # type: ignore[misc]
    assert min(red, green, blue) > 200


def test_place_time_and_remarks_do_not_come_along() -> None:
    exif = Image.Exif()
    exif[DESCRIPTION] = "secret customer"
    exif.get_ifd(GPS).update({1: "N", 2: (53.0, 5.0, 11.0)})
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()

    drawn = redrawn(photo(exif=exif, comment=b"secret customer", icc_profile=profile))

    assert b"secret" not in drawn
    assert b"Exif" not in drawn
    assert dict(opened(drawn).getexif()) == {}
    assert set(opened(drawn).info) <= {
        "jfif",
        "jfif_version",
        "jfif_unit",
        "jfif_density",
    }


@pytest.mark.parametrize(
    ("given", "kept"),
    [((3200, 1000), (1600, 500)), ((900, 4000), (360, 1600)), ((60, 40), (60, 40))],
)
def test_the_longest_side_is_kept_within_its_limit(
    given: tuple[int, int], kept: tuple[int, int]
) -> None:
    image = opened(redrawn(photo(given)))

    assert max(image.size) <= LONGEST_SIDE
    assert image.size == pytest.approx(kept, abs=1)
    assert image.format == "JPEG"


def last_scan(picture: bytes) -> bytes:
    return picture[picture.rindex(b"\xff\xda") : -2]


def test_a_picture_that_is_gone_over_hundreds_of_times_is_refused_before_it_is_decoded() -> (
    None
):
    """Each scan is decoded over all points: 400 of them in 404 kB cost 18 s."""
    progressive = photo((64, 64), progressive=True)
    own = scans(progressive)
    bomb = progressive[:-2] + last_scan(progressive) * 400 + progressive[-2:]

    assert own in range(6, 15)
    assert scans(photo()) == 1
    assert scans(bomb) == own + 400
    with pytest.raises(PictureRefused, match="scans"):
        redrawn(bomb)
    assert opened(redrawn(progressive)).size == (64, 64)


def test_a_film_behind_a_picture_is_not_taken_for_scans() -> None:
    assert scans(photo() + last_scan(photo(progressive=True)) * 400) == 1
    assert opened(redrawn(photo() + b"\xff\xda\x00\x08" * 400)).size == (60, 40)


def test_no_more_than_a_few_pictures_wait_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    go, begun = threading.Event(), threading.Semaphore(0)

    def slowly(sent: bytes) -> bytes:
        begun.release()
        go.wait(20)
        return sent

    monkeypatch.setattr(album, "_as_jpeg", slowly)
    taken: list[bytes] = []
    senders = [
        threading.Thread(target=lambda: taken.append(redrawn(b"x")))
        for _ in range(album.AT_ONCE)
    ]
    for sender in senders:
        sender.start()
    assert begun.acquire(timeout=20)
    while album._places._value:  # until the others wait
        time.sleep(0.01)

    with pytest.raises(PictureRefused, match="in a moment"):
        redrawn(b"y")
    go.set()
    for sender in senders:
        sender.join()
    assert len(taken) == album.AT_ONCE
    assert redrawn(b"z") == b"z"


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_what_phones_send_is_taken(kind: str) -> None:
    assert opened(redrawn(photo(kind=kind))).size == (60, 40)


def test_what_is_seen_through_becomes_white() -> None:
    out = BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")

    assert opened(redrawn(out.getvalue())).convert("RGB").getpixel((10, 10)) == (
        255,
        255,
        255,
    )


@pytest.mark.parametrize(
    "sent",
    [
        b"",
        b"hello",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        photo()[:300],
        photo(kind="PNG")[:60],
        photo(kind="GIF"),
        photo(kind="BMP"),
        png_claiming(100, 100),
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n",
    ],
    ids=[
        "nothing",
        "text",
        "drawing",
        "torn",
        "torn png",
        "gif",
        "bmp",
        "no points",
        "program",
    ],
)
def test_what_is_no_picture_is_refused_in_a_sentence(sent: bytes) -> None:
    with pytest.raises(PictureRefused, match="JPEG, PNG or WebP"):
        redrawn(sent)


@pytest.mark.parametrize("size", [(8001, 8000), (60000, 60000), (2_000_000_000, 2)])
def test_a_few_bytes_that_unfold_to_a_huge_picture_are_refused(
    size: tuple[int, int],
) -> None:
    with pytest.raises(PictureRefused):
        redrawn(png_claiming(*size))


def test_a_file_over_the_limit_is_refused() -> None:
    with pytest.raises(PictureRefused, match="12 MB"):
        redrawn(photo() + b"\0" * LARGEST_FILE)


# On the page


def test_a_picture_makes_the_shops_copy_and_is_shown_with_its_words(
    bench: Bench, visitor: Visitor
) -> None:
    page = send(visitor, photo((3000, 2000)))

    assert files(bench) == [f"{SLUG}-1.jpg"]
    assert own_text(bench).endswith(
        f"\n## Pictures\n\n![the plug](pictures/{SLUG}-1.jpg)\n"
    )
    assert own_text(bench).startswith(
        (stock_folder() / f"{SLUG}.md").read_text("utf-8").rstrip()
    )
    assert (
        f'src="/entry/pictures/{SLUG}-1.jpg" width="1600" height="1067" loading="lazy"'
        in page.html
    )
    assert 'alt="the plug"' in page.html
    shown = visitor.client.get(f"/entry/pictures/{SLUG}-1.jpg", base_url=HOME)
    assert (shown.status_code, shown.mimetype) == (200, "image/jpeg")
    assert opened(shown.data).size == (1600, 1067)


def test_a_picture_without_words_still_says_what_it_belongs_to(
    visitor: Visitor,
) -> None:
    page = send(visitor, photo(), caption="")

    assert (
        'alt="The system shows no battery although one is fitted, picture 1"'
        in page.html
    )


def test_words_under_a_picture_cannot_become_anything_else(
    bench: Bench, visitor: Visitor
) -> None:
    page = send(visitor, photo(), caption="x](http://elsewhere)\n## Fix\n<i>![y")

    assert "<i>" not in page.html
    assert len(editing.pictures_in(own_text(bench))) == 1
    assert bench.entries.entry(SLUG) is not None
    assert own_text(bench).count("## Fix") == 1 + editing.pictures_in(own_text(bench))[
        0
    ].caption.count("## Fix")


def test_the_same_picture_sent_twice_is_kept_once(
    bench: Bench, visitor: Visitor
) -> None:
    send(visitor, photo())
    send(visitor, photo())

    assert files(bench) == [f"{SLUG}-1.jpg"]
    assert len(editing.pictures_in(own_text(bench))) == 1


def test_an_entry_carries_eight_pictures_and_says_so(
    bench: Bench, visitor: Visitor
) -> None:
    for number in range(MOST_PICTURES - 1):
        bench.entries.album().add(SLUG, photo((40 + number, 40)), "")
    page = send(visitor, photo((200, 100)))
    assert "remove one to add another" in page.text

    with pytest.raises(PictureRefused, match="8 pictures at most"):
        bench.entries.album().add(SLUG, photo((300, 100)), "")
    assert len(files(bench)) == MOST_PICTURES


@pytest.mark.slow
def test_removing_a_picture_moves_it_aside_and_its_number_does_not_come_back(
    bench: Bench, visitor: Visitor
) -> None:
    send(visitor, photo())

    page = visitor.press("Remove this picture")

    assert "/entry/pictures/" not in page.html
    assert files(bench) == [f".kept/{SLUG}-1.jpg"]
    assert "## Pictures" not in own_text(bench)
    send(visitor, photo(colour="blue"))
    assert files(bench) == [f".kept/{SLUG}-1.jpg", f"{SLUG}-2.jpg"]


def test_a_picture_of_another_entry_cannot_be_removed_here(
    bench: Bench, visitor: Visitor
) -> None:
    bench.entries.album().add("row-of-keys-dead", photo(), "")
    send(visitor, photo())

    page = visitor.press("Remove this picture", file="row-of-keys-dead-1.jpg")

    assert page.status == 404
    assert "row-of-keys-dead-1.jpg" in files(bench)


@pytest.mark.parametrize(
    "sent", [b"", b"no picture at all"], ids=["nothing chosen", "text"]
)
def test_a_refused_picture_changes_nothing(
    bench: Bench, visitor: Visitor, sent: bytes
) -> None:
    page = send(visitor, sent)

    assert page.status == 400
    assert "The picture was not taken" in page.text
    assert files(bench) == []
    assert not (bench.folder / "entries" / f"{SLUG}.md").exists()


def test_a_link_among_the_pictures_is_not_followed(
    bench: Bench, visitor: Visitor
) -> None:
    folder = bench.folder / "entries" / "pictures"
    folder.mkdir(parents=True)
    os.symlink(bench.folder / "history.db", folder / f"{SLUG}-1.jpg")

    assert (
        visitor.client.get(f"/entry/pictures/{SLUG}-1.jpg", base_url=HOME).status_code
        == 404
    )


def test_a_picture_that_is_gone_leaves_its_entry_readable(
    bench: Bench, visitor: Visitor
) -> None:
    send(visitor, photo())
    (bench.folder / "entries" / "pictures" / f"{SLUG}-1.jpg").unlink()

    page = visitor.go(f"/entry/{SLUG}")

    assert page.status == 200
    assert "<img" not in page.html


def test_whoever_saves_in_between_keeps_both_the_text_and_the_picture(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/entry/{SLUG}/edit")
    bench.entries.album().add(SLUG, photo(), "the plug")

    page = visitor.press(
        "Save",
        text=(stock_folder() / f"{SLUG}.md").read_text("utf-8") + "\n<!-- mine -->\n",
    )

    assert page.status == 409
    assert "![the plug]" in page.text
    assert "![the plug]" in own_text(bench)


def test_a_picture_is_moved_to_a_test_and_stays_with_the_sheet_when_that_test_goes(
    bench: Bench,
) -> None:
    desk = bench.entries.album()
    file = desk.add(SLUG, photo(), "the plug", "fix contact")
    test = f"test {entry_of(bench).tests[0].slug}"

    desk.change(SLUG, editing.Reference(file, "the charger out", test))

    (moved,) = desk.at(entry_of(bench), test)
    assert (moved.file, moved.caption) == (file, "the charger out")
    assert desk.at(entry_of(bench), "fix contact") == ()
    text = own_text(bench)
    bench.entries.save(
        SLUG,
        text.replace("Pull the charger while it runs and watch", "Look at the sign"),
        digest(text),
    )
    assert [one.file for one in desk.at(entry_of(bench), "")] == [file]


def test_a_place_that_the_sheet_does_not_have_takes_no_picture(bench: Bench) -> None:
    with pytest.raises(PictureRefused, match="choose again where the picture belongs"):
        bench.entries.album().add(SLUG, photo(), "the plug", "test gone")

    assert files(bench) == []


def test_beside_a_step_stands_a_small_copy_and_none_of_what_is_no_picture(
    bench: Bench,
) -> None:
    desk = bench.entries.album()
    file = desk.add(SLUG, photo((1600, 900)), "the plug")
    small = desk.small(file)
    assert small
    assert opened(small).size == (320, 180)

    (desk.folder / file).write_bytes(b"no picture")

    assert desk.small(file) is None
    assert desk.small("../history.db") is None


def test_a_backup_carries_the_pictures(bench: Bench, tmp_path: Path) -> None:
    bench.entries.album().add(SLUG, photo(), "the plug")
    target = tmp_path / "kept.zip"

    bench.history()
    backup(bench.folder, target, bench.shop.clock())

    assert f"entries/pictures/{SLUG}-1.jpg" in zipfile.ZipFile(target).namelist()
