"""The shelf, two folders of entries: the stock that ships with the program, and the shop's own on top of it."""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from kb.base import durable, locks
from kb.base.trouble import NotThere, Refusal, Trouble
from kb.base.worded import worded
from kb.library import markdown, trade, unwritten
from kb.library.customs import ACTS, Customs
from kb.library.stock import may_be_entry, stamp_of
from kb.library.stock import stock_folder as stock_folder
from kb.model import Entry, Remark

#: A folder with more files than this is taken for the wrong folder.
MAX_FILES = 20_000


class EntryChanged(Trouble):
    """Someone else saved this entry in the meantime; `current` is the text that stands there now."""

    def __init__(self, current: str) -> None:
        super().__init__(
            worded(
                "someone else has saved this entry since you opened it; compare the two texts and save again"
            )
        )
        self.current = current


class NotSaved(Trouble):
    """The disk did not take an entry; what stood there before stands there still."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One file of the shelf: where it stands, its text, and what reading it gave.

    `stock` is the stock entry of that name where the shop's own file holds nothing to serve.
    """

    slug: str
    path: Path
    own: bool
    text: str = field(repr=False)
    parsed: markdown.Parsed
    stock: Entry | None = None

    @property
    def entry(self) -> Entry | None:
        """The entry to serve, or None if there is nothing to serve."""
        return self.parsed.entry or self.stock

    @property
    def unread(self) -> bool:
        """Whether it is a file of the shop's own, named like an entry, that holds nothing to serve."""
        return self.own and self.parsed.entry is None and markdown.is_slug(self.slug)


class Shelf:
    """All entries a shop sees; a file in its own folder wins over the stock file of that name, if it can be served."""

    def __init__(self, stock: Path | None, own: Path | None) -> None:
        self.stock = stock
        self.own = own
        self.customs = Customs(stock, own)

    def files(self) -> dict[str, tuple[Path, bool]]:
        """Slug to (path, whether it is the shop's own), sorted by slug; nothing is opened."""
        found: dict[str, tuple[Path, bool]] = {}
        for folder, own in ((self.stock, False), (self.own, True)):
            for path in _markdown_files(folder):
                found[path.stem] = (path, own)
        return dict(sorted(found.items()))

    def stamps(self) -> dict[str, str]:
        """Slug to a stamp that changes whenever its file does, own or stock: path, size, time and inode.

        So do the table of standard acts, from which a sheet's minutes may come, and the names of the trade.
        """
        stamps: dict[str, str] = {}
        for folder in (self.stock, self.own):
            for item in _markdown_items(folder):
                try:
                    status = item.stat(follow_symlinks=False)
                except OSError:
                    continue
                stamps[item.name[:-3]] = stamps.get(item.name[:-3], "") + stamp_of(
                    item.path, status
                )
        house = self.customs.stamp(ACTS) + self.customs.stamp(trade.FILE)
        return {slug: stamp + house for slug, stamp in stamps.items()}

    def sheet(self, slug: str) -> Sheet | None:
        """The sheet of that slug as it stands now, or None."""
        if not markdown.is_slug(slug):
            return None
        for folder, own in ((self.own, True), (self.stock, False)):
            if folder is not None and (path := folder / f"{slug}.md").exists():
                return self.read(path, own)
        return None

    def read(self, path: Path, own: bool) -> Sheet:
        """The sheet of one of the `files`; the stock entry stands in for an own one that holds nothing to serve.

        Nothing is served of an own sheet that says anywhere what an empty one says.
        """
        sheet = read_sheet(path, own, self.customs)
        entry = sheet.parsed.entry if own else None
        left = unwritten.remarks(entry, self.customs) if entry else []
        if left:
            sheet = replace(
                sheet, parsed=markdown.Parsed(None, (*sheet.parsed.remarks, *left))
            )
        if not sheet.unread:
            return sheet
        stock = (
            read_sheet(self.stock / path.name, own=False, customs=self.customs).entry
            if self.stock
            else None
        )
        what = (
            worded("the stock entry of that name is used instead")
            if stock
            else worded("it is left out of the library")
        )
        told = Remark(
            path.name,
            1,
            worded("nothing in this file can be served, {what}", what=what),
            worded("mend it, or move it away"),
        )
        return replace(
            sheet,
            parsed=markdown.Parsed(None, (*sheet.parsed.remarks, told)),
            stock=stock,
        )

    def sheets(self) -> Iterator[Sheet]:
        """Every sheet by slug; unreadable files come as sheets without an entry but with remarks."""
        for path, own in self.files().values():
            yield self.read(path, own)

    def stock_text(self, slug: str) -> str:
        """The stock text of that slug, empty if there is none: what the shop's copy differs from."""
        path = self.stock / f"{slug}.md" if self.stock else None
        return read_sheet(path, own=False).text if path and path.exists() else ""

    def save(self, slug: str, text: str, base: str) -> Path:
        """Put the shop's text of an entry in place, whole or not at all, flushed to the disk.

        `base` is the digest of the text the edit started from ("" for a new entry). Raises EntryChanged
        if another text stands there by now, NotSaved if the disk does not take it, Refusal for a name or
        size that cannot be an entry.
        """
        if self.own is None:
            raise Refusal(worded("no shop folder is given; start with --shop DIR"))
        if not markdown.is_slug(slug):
            raise Refusal(
                worded(
                    "`{slug}` cannot name an entry; use lower-case words joined by hyphens",
                    slug=slug[:60],
                )
            )
        if len(text.encode("utf-8", "replace")) > markdown.MAX_BYTES:
            raise Refusal(
                worded(
                    "the entry is larger than 64 KiB; move part of it to another entry"
                )
            )
        try:
            durable.make_folder(self.own)
            with locks.on(self.own / ".lock"):
                current = self.sheet(slug)
                _refuse_if_changed(current, base)
                path = self.own / f"{slug}.md"
                if current is not None and current.own and not current.text:
                    _keep_unread(path, self.own / ".kept")
                durable.write_whole(path, text.encode("utf-8", "replace"))
                return path
        except OSError as error:
            raise NotSaved(
                worded(
                    "the disk did not take the entry ({strerror}), nothing was saved; mend the disk, its space "
                    "or its permissions and save again",
                    strerror=error.strerror or error,
                )
            ) from error

    def put_away(self, slug: str, base: str, day: str) -> Path:
        """Move the shop's text of an entry to `.kept/<slug>-<day>.md`; the stock text counts again if there is one.

        `base` is the digest of the text that is meant. Raises EntryChanged if another one stands there by now,
        NotThere if the shop has no text of that entry, NotSaved if the disk does not do it.
        """
        sheet = self.sheet(slug)
        if self.own is None or sheet is None or not sheet.own:
            raise NotThere(
                worded("this shop has no text of its own for {slug}", slug=slug[:60])
            )
        kept = self.own / ".kept"
        try:
            with locks.on(self.own / ".lock"):
                current = read_sheet(sheet.path, own=True).text
                if digest(current) != base:
                    raise EntryChanged(current)
                durable.make_folder(kept)
                names = [
                    f"{slug}-{day}.md",
                    *(f"{slug}-{day}-{number}.md" for number in range(2, 1000)),
                ]
                free = next(kept / name for name in names if not (kept / name).exists())
                os.replace(sheet.path, free)
                durable.sync_folder(kept)
                durable.sync_folder(self.own)
        except OSError as error:
            raise NotSaved(
                worded(
                    "the entry could not be moved aside ({strerror}); mend the disk, its space or its "
                    "permissions and try again",
                    strerror=error.strerror or error,
                )
            ) from error
        return free

    def kept_away(self, slug: str, name: str) -> Path | None:
        """The file in `.kept` to which a text of that entry was moved; None if there is none of that name."""
        if self.own is None or not re.fullmatch(
            rf"{re.escape(slug)}-\d{{4}}-\d\d-\d\d(-\d{{1,3}})?\.md", name
        ):
            return None
        path = self.own / ".kept" / name
        return path if path.is_file() else None


def _refuse_if_changed(current: Sheet | None, base: str) -> None:
    """Raise EntryChanged if another text stands there than the one that the edit started from."""
    text = current.text if current else ""
    if digest(text) != (base or digest("")):
        _readable(current)
        raise EntryChanged(text)


def _readable(sheet: Sheet | None) -> None:
    """Raise OSError if the disk did not give the file of a sheet, which is something else than an empty one."""
    if sheet is not None and not sheet.text:
        sheet.path.read_bytes()


def _keep_unread(path: Path, kept: Path) -> None:
    """Keep a file that could not be read as an entry (no UTF-8, too large) before another takes its place."""
    status = path.lstat()
    if stat.S_ISREG(status.st_mode) and status.st_size:
        durable.make_folder(kept)
        names = (kept / f"{path.stem}-unread-{number}.md" for number in range(1, 1000))
        os.link(path, next(name for name in names if not os.path.lexists(name)))
        durable.sync_folder(kept)


def digest(text: str) -> str:
    """A short fingerprint of a text, to notice that it has changed."""
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:32]


def read_sheet(path: Path, own: bool, customs: Customs | None = None) -> Sheet:
    """What one file gives, by the given customs of a house or those that ship.

    Every trouble becomes a remark, none is raised.
    """
    text, remark = _read(path)
    if remark is not None:
        return Sheet(path.stem, path, own, text, markdown.Parsed(None, (remark,)))
    return Sheet(
        path.stem, path, own, text, markdown.parse(text, path.stem, path.name, customs)
    )


def _markdown_files(folder: Path | None) -> list[Path]:
    return [Path(item.path) for item in _markdown_items(folder)]


def _markdown_items(folder: Path | None) -> list[os.DirEntry[str]]:
    if folder is None or not folder.is_dir():
        return []
    with os.scandir(folder) as items:
        named = [item for item in items if may_be_entry(item.name)]
    return sorted(named, key=lambda item: item.name)[:MAX_FILES]


def _read(path: Path) -> tuple[str, Remark | None]:
    """The text of a plain, small UTF-8 file, or a remark saying why it was not read."""

    def refuse(problem: str, instead: str, line: int = 1) -> tuple[str, Remark]:
        return "", Remark(path.name, line, problem, instead)

    try:
        status = path.lstat()
        if not stat.S_ISREG(status.st_mode):
            return refuse(
                worded("this is not a plain file"),
                worded("put the entry itself here, not a link, pipe or folder"),
            )
        if status.st_size > markdown.MAX_BYTES:
            return refuse(
                worded("the file has {st_size} bytes", st_size=status.st_size),
                worded("keep an entry under 64 KiB"),
            )
        raw = path.read_bytes()
    except OSError as error:
        return refuse(
            worded("the file cannot be read ({strerror})", strerror=error.strerror),
            worded("mend its permissions or remove it"),
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return refuse(
            worded("the file is not UTF-8 text"),
            worded("save it as UTF-8"),
            raw.count(b"\n", 0, error.start) + 1,
        )
    if "\x00" in text:
        return refuse(
            worded("the file holds a NUL character"),
            worded("remove it or save as UTF-8"),
            text.count("\n", 0, text.index("\x00")) + 1,
        )
    return text, None
