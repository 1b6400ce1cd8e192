"""The album of pictures beside the entries, drawn anew from what a phone sends, so that only what is seen stays."""

from __future__ import annotations

import hashlib
import os
import re
import stat
import struct
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path

from PIL import Image, ImageOps, JpegImagePlugin, PngImagePlugin, WebPImagePlugin

from kb.base import durable
from kb.base.trouble import NotThere, Refusal
from kb.base.worded import worded
from kb.library import drawing, editing, shelf
from kb.model import Entry

#: The largest file taken, in bytes; the most points a picture may have; the longest side that is kept, in points.
LARGEST_FILE = 12 * 1024 * 1024
MOST_POINTS = 64_000_000
LONGEST_SIDE = 1600
#: The longest side of the small copy that stands in a step, in points.
SMALL_SIDE = 320
#: The most pictures an entry carries.
MOST_PICTURES = 8
QUALITY = 82
#: What is opened: no other reader of the library ever sees what was sent.
KINDS = (
    JpegImagePlugin.JpegImageFile.format,
    PngImagePlugin.PngImageFile.format,
    WebPImagePlugin.WebPImageFile.format,
)
_NAME = re.compile(
    r"(?P<slug>[a-z0-9]+(?:-[a-z0-9]+)*)-(?P<number>[1-9][0-9]{0,5})\.jpg"
)
#: What the name of a marked copy adds to that of the picture it is drawn on.
_MARKED = re.compile(r"-mark-[1-9][0-9]{0,5}(?=\.jpg$)")
#: The most scans of one picture: a camera writes 1, a careful encoder 10 to 20, and each is decoded over all points.
MOST_SCANS = 100
#: One picture is drawn at a time: a large one needs some hundred megabytes.
_drawing = threading.Lock()
#: So many are drawn or wait for it, so that uploads never hold all threads of the pages.
AT_ONCE = 3
_places = threading.BoundedSemaphore(AT_ONCE)
#: In the data of a JPEG every FF is followed by 00 or a restart, so that anything else is the next marker.
_MARKER = re.compile(rb"\xff+[^\x00\xd0-\xd7\xff]")
_SCAN, _END = 0xDA, 0xD9


class PictureRefused(Refusal):
    """The picture is not taken; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as a page shows it: the file's name, what is to be seen, its size in points, where it belongs."""

    file: str
    caption: str
    width: int
    height: int
    place: str = ""


def redrawn(sent: bytes) -> bytes:
    """The picture as a JPEG of at most 1600 points a side, upright, with nothing but its points in it.

    Raises PictureRefused for what is no picture, or one too large.
    """
    if len(sent) > LARGEST_FILE:
        raise PictureRefused(
            worded("the picture is larger than 12 MB; send a smaller one")
        )
    if scans(sent) > MOST_SCANS:
        raise PictureRefused(
            worded(
                "the picture has more than {most_scans} scans; save it anew and send that",
                most_scans=MOST_SCANS,
            )
        )
    with _turn():
        return _as_jpeg(sent)


@contextmanager
def _turn() -> Iterator[None]:
    """Draw in turn with others; raises PictureRefused for what cannot be read, or where too many wait already."""
    if not _places.acquire(blocking=False):
        raise PictureRefused(
            worded(
                "several pictures are being taken in just now; send this one again in a moment"
            )
        )
    try:
        with _drawing:
            yield
    except PictureRefused:
        raise
    except (
        OSError,
        SyntaxError,
        ValueError,
        EOFError,
        struct.error,
        Image.DecompressionBombError,
    ) as error:
        told = worded(
            "this is not a picture that can be read; send it as JPEG, PNG or WebP"
        )
        raise PictureRefused(told) from error
    finally:
        _places.release()


def original_of(file: str) -> str:
    """The picture that a marked copy of a sheet's picture is drawn on; any other is its own.

    >>> original_of("no-battery-3-mark-2.jpg"), original_of("no-battery-3.jpg")
    ('no-battery-3.jpg', 'no-battery-3.jpg')
    """
    return _MARKED.sub("", file)


def scans(sent: bytes) -> int:
    """How many times a JPEG goes over its points (ITU-T T.81, B.1.1: its SOS markers); 0 for what is none.

    What a phone puts behind the end of a picture, such as a film, is not looked at.
    """
    if not sent.startswith(b"\xff\xd8"):
        return 0
    count, place = 0, 2
    while (found := _MARKER.search(sent, place)) and sent[found.end() - 1] != _END:
        count += sent[found.end() - 1] == _SCAN
        place = found.end() + int.from_bytes(sent[found.end() : found.end() + 2], "big")
    return count


def _as_jpeg(sent: bytes) -> bytes:
    with Image.open(BytesIO(sent), formats=KINDS) as opened:
        if opened.width * opened.height > MOST_POINTS:
            raise PictureRefused(
                worded(
                    "the picture has more than 64 million points; send a smaller one"
                )
            )
        opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
        image = ImageOps.exif_transpose(opened)
        image.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
        if "A" in image.getbands() or "transparency" in image.info:
            image = image.convert("RGBA")
            clean = Image.new("RGB", image.size, "white")
            clean.paste(image, mask=image.getchannel("A"))
        else:  # a fresh image: what the old one carried besides its points stays behind
            clean = Image.new("RGB", image.size)
            clean.paste(image.convert("RGB"))
    return _saved(clean)


def _saved(image: Image.Image) -> bytes:
    out = BytesIO()
    image.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


class Album:
    """The pictures of a shop, in the folder `pictures` beside its entries, so that the text can name them."""

    def __init__(self, held: shelf.Shelf) -> None:
        if held.own is None:
            raise PictureRefused(
                worded("no shop folder is given; start with --shop DIR")
            )
        self._shelf = held
        self.folder = held.own / "pictures"

    def path(self, file: str) -> Path | None:
        """Where that picture stands; None for a name that is none or a file that is not a plain one."""
        path = self.folder / file
        if not _NAME.fullmatch(file):
            return None
        try:
            return path if stat.S_ISREG(path.lstat().st_mode) else None
        except OSError:
            return None

    def of(self, text: str) -> tuple[Picture, ...]:
        """The pictures that a text names and that are there, at most as many as an entry carries."""
        found = []
        for named in editing.pictures_in(text):
            path = self.path(named.file)
            try:
                if path is not None:
                    with Image.open(path, formats=("JPEG",)) as image:
                        found.append(
                            Picture(
                                named.file,
                                named.caption,
                                *image.size,
                                place=named.place,
                            )
                        )
            except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
                continue
        return tuple(found[:MOST_PICTURES])

    def at(self, entry: Entry, place: str) -> tuple[Picture, ...]:
        """The pictures of an entry that belong to one place of it, as `editing.place_in` names it."""
        shown = self.of("\n".join(text for _, text in entry.extra))
        return tuple(
            one for one in shown if editing.place_in(entry, one.place) == place
        )

    def small(self, file: str) -> bytes | None:
        """A picture as a JPEG of at most 320 points a side, to stand beside a step; None where there is none."""
        path = self.path(file)
        if path is None:
            return None
        try:
            with Image.open(path, formats=("JPEG",)) as image:
                if image.width * image.height > MOST_POINTS:
                    return None
                image.draft("RGB", (SMALL_SIDE, SMALL_SIDE))
                image.thumbnail((SMALL_SIDE, SMALL_SIDE))
                out = BytesIO()
                image.convert("RGB").save(out, "JPEG", quality=QUALITY)
                return out.getvalue()
        except (OSError, SyntaxError, ValueError, Image.DecompressionBombError):
            return None

    def add(self, slug: str, sent: bytes, caption: str, place: str = "") -> str:
        """Put a picture beside an entry and name it in the shop's text; gives the name of its file.

        `place` says where in the entry it belongs, as `editing.place_in` names it; empty for the whole of it.
        The same picture again adds nothing. Raises PictureRefused, LookupError for an unknown entry,
        shelf.NotSaved if the disk does not take it.
        """
        text, place = self._text(slug), self._place(slug, place)
        if len(editing.pictures_in(text)) >= MOST_PICTURES:
            raise PictureRefused(
                worded(
                    "an entry carries {most_pictures} pictures at most; remove one first",
                    most_pictures=MOST_PICTURES,
                )
            )
        drawn = redrawn(sent)
        for named in editing.pictures_in(text):
            path = self.path(named.file)
            if path is not None and path.read_bytes() == drawn:
                return named.file
        with _told():
            path = self._claimed(slug)
            try:
                durable.write_whole(path, drawn)
                named = editing.Reference(path.name, caption, place)
                self._change(slug, lambda text: editing.with_picture(text, named))
            except BaseException:
                path.unlink(missing_ok=True)
                raise
        return path.name

    def change(self, slug: str, named: editing.Reference) -> None:
        """Give a picture of an entry other words and another place; the picture itself stays.

        Raises NotThere for one that the entry does not name, PictureRefused for a place that it does not have.
        """
        if named.file not in [
            one.file for one in editing.pictures_in(self._text(slug))
        ]:
            raise _not_there(named.file, slug)
        meant = replace(named, place=self._place(slug, named.place))
        self._change(slug, lambda text: editing.with_other_words(text, meant))

    def keep(self, stem: str, sent: bytes) -> str:
        """Put a picture that no entry names into the folder; gives the name of its file, the same for the same picture.

        Raises PictureRefused, or shelf.NotSaved if the disk does not take it.
        """
        return self._kept(stem, redrawn(sent))

    def keep_marked(self, stem: str, file: str, mark: drawing.Mark) -> str:
        """Put a copy of a picture that no entry names into the folder, marked; gives the name of the copy's file.

        Raises NotThere, PictureRefused, or shelf.NotSaved if the disk does not take it.
        """
        return self._kept(stem, self._marked(file, mark, stem))

    def _kept(self, stem: str, drawn: bytes) -> str:
        path = self.folder / f"{stem}-{hashlib.sha256(drawn).hexdigest()[:16]}-1.jpg"
        with _told():
            durable.make_folder(self.folder)
            if not path.exists():
                durable.write_whole(path, drawn)
        return path.name

    def mark(self, slug: str, file: str, mark: drawing.Mark) -> str:
        """Show a marked copy of a picture in an entry's text in its place; gives the copy's file, the original stays.

        A picture that is marked already by the same tap again stays as it is. Raises NotThere, PictureRefused,
        shelf.NotSaved if the disk does not take it.
        """
        shown = {
            original_of(one.file): one.file
            for one in editing.pictures_in(self._text(slug))
        }
        if shown.get(original_of(file), file) != file:
            return shown[original_of(file)]
        if file not in shown.values():
            raise _not_there(file, slug)
        drawn = self._marked(file, mark, slug)
        with _told():
            path = self._claimed(f"{original_of(file).removesuffix('.jpg')}-mark")
            try:
                durable.write_whole(path, drawn)
                self._change(
                    slug, lambda text: editing.with_other_file(text, file, path.name)
                )
            except BaseException:
                path.unlink(missing_ok=True)
                raise
        return path.name

    def unmark(self, slug: str, file: str) -> None:
        """Show a picture of an entry without its marks again; the marked copies are moved to `.kept`."""
        original = original_of(file)
        if file not in self._named(slug) or not self.path(original):
            raise _not_there(file, slug)
        self._change(slug, lambda text: editing.with_other_file(text, file, original))
        self._put_aside(copy for copy in self._copies(original) if copy != original)

    def remove(self, slug: str, file: str) -> None:
        """Take a picture out of an entry's text and move its file to `.kept`; NotThere if it is not there."""
        match = _NAME.fullmatch(original_of(file))
        is_of_entry = match is not None and match["slug"] == slug
        is_there = self.path(file) is not None or file in self._named(slug)
        if not is_of_entry or not is_there:
            raise _not_there(file, slug)
        self._change(slug, lambda text: editing.without_picture(text, file))
        self._put_aside(self._copies(original_of(file)))

    def _named(self, slug: str) -> list[str]:
        """The files of the pictures that an entry's text names."""
        return [one.file for one in editing.pictures_in(self._text(slug))]

    def _copies(self, original: str) -> list[str]:
        """The picture of that name, if it is there, and its marked copies."""
        beside = self.folder.glob(f"{original.removesuffix('.jpg')}*.jpg")
        return [
            path.name
            for path in beside
            if original_of(path.name) == original and self.path(path.name)
        ]

    def _put_aside(self, files: Iterable[str]) -> None:
        with _told():
            for file in files:
                durable.make_folder(self.folder / ".kept")
                os.replace(self.folder / file, self.folder / ".kept" / file)

    def _marked(self, file: str, mark: drawing.Mark, where: str) -> bytes:
        """A copy of a picture with that mark."""
        path = self.path(file)
        if path is None:
            raise _not_there(file, where)
        with _turn(), Image.open(path, formats=("JPEG",)) as image:
            if image.width * image.height > MOST_POINTS:
                raise PictureRefused(
                    worded(
                        "the picture has more than 64 million points; send a smaller one"
                    )
                )
            return _saved(drawing.drawn(image.convert("RGB"), mark))

    def _text(self, slug: str) -> str:
        sheet = self._shelf.sheet(slug)
        if sheet is None or not sheet.text:
            raise NotThere(
                worded(
                    "there is no entry {slug}; look for it in the library",
                    slug=slug[:60],
                )
            )
        return sheet.text

    def _place(self, slug: str, said: str) -> str:
        """The place as the entry names it; PictureRefused for one that it does not have."""
        sheet = self._shelf.sheet(slug)
        entry = sheet.parsed.entry if sheet else None
        place = editing.place_in(entry, said) if entry else ""
        if said and not place:
            raise PictureRefused(
                worded(
                    "the sheet has no “{place}” by now; choose again where the picture belongs",
                    place=said[:80],
                )
            )
        return place

    def _numbers(self, slug: str) -> Iterator[int]:
        """The numbers that pictures of an entry have or had."""
        for item in (*self.folder.glob("*.jpg"), *self.folder.glob(".kept/*.jpg")):
            match = _NAME.fullmatch(item.name)
            if match and match["slug"] == slug:
                yield int(match["number"])

    def _claimed(self, slug: str) -> Path:
        """An empty file under the next free number of that entry; numbers of removed pictures do not come back."""
        durable.make_folder(self.folder)
        number = max(self._numbers(slug), default=0) + 1
        while True:
            path = self.folder / f"{slug}-{number}.jpg"
            try:
                path.open("xb").close()
            except FileExistsError:
                number += 1
            else:
                return path

    def _change(self, slug: str, change: editing.Change) -> None:
        """Change the text of an entry; whoever saves in between is not overwritten."""
        for attempt in range(5):
            text = self._text(slug)
            try:
                self._shelf.save(slug, change(text), shelf.digest(text))
            except shelf.EntryChanged:
                if attempt == 4:
                    raise
            else:
                return


def _not_there(file: str, slug: str) -> NotThere:
    told = worded(
        "there is no picture {file} in {slug}; it may be removed already",
        file=file[:80],
        slug=slug[:60],
    )
    return NotThere(told)


@contextmanager
def _told() -> Iterator[None]:
    """Trouble with the disk as a sentence; raises shelf.NotSaved."""
    try:
        yield
    except OSError as error:
        told = worded(
            "the disk did not take the picture ({strerror}); mend its space or its permissions",
            strerror=error.strerror or error,
        )
        raise shelf.NotSaved(told) from error
