"""To restore a backup or a copy of the history: all is checked before any is moved, and nothing is thrown away."""

from __future__ import annotations

import filecmp
import os
import shutil
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from kb.base import durable
from kb.base.clock import stamp
from kb.base.trouble import Refusal
from kb.history import schema
from kb.history.copies import register
from kb.history.copies.archive import SQLITE, Manifest, unpack
from kb.history.copies.members import LIBRARY
from kb.history.marks import (
    Marker,
    Tip,
    marker_path,
    read_marker,
    tip_path,
    write_marker,
    write_tip,
)
from kb.history.trouble import (
    BackupTrouble,
    HistoryLost,
    HistoryTrouble,
    NoHistory,
    in_plain_words,
)
from kb.history.verification import examine, verify

#: What SQLite may have left beside a database file; it belongs to that file and to no other.
_TAILS = ("-journal", "-wal", "-shm")


@dataclass(frozen=True, slots=True)
class RestoreReport:
    """What was put back, and what became of what stood there.

    `kept` is the folder with what was moved aside, None if nothing was; `left` names the shop's files
    that differ from the backup and were left as they are; `whole` is false if the file held the history alone.
    """

    manifest: Manifest
    kept: Path | None
    left: tuple[str, ...]
    whole: bool = True

    @property
    def holds_library(self) -> bool:
        """Whether the library of another trade came with it."""
        return any(name.startswith(f"{LIBRARY}/") for name, _ in self.manifest.files)


def restore(
    file: Path, shop_dir: Path, now: datetime, *, replace: bool = False
) -> RestoreReport:
    """Put a backup, or an SQLite file that holds a history, into a shop folder without one; stop the server before.

    A lost or damaged history is kept aside in a folder `kept-` and the date. With `replace` a sound
    history and entries that differ are kept aside as well; without it they make this a Refusal or stay.
    Raises BackupTrouble if the backup is not sound; nothing is changed then.
    """
    history = shop_dir / "history.db"
    if not file.is_file():
        raise Refusal(
            f"{file}: there is no such backup; give the path of a backup file"
        )
    with in_plain_words(history):
        shop_dir.mkdir(parents=True, exist_ok=True)
        with durable.workshop(shop_dir, "restore") as staged:
            manifest = _checked(file, staged, now)
            if not replace:
                _refuse_if_sound(history, manifest, now)
            _settle(history)
            kept = _free_name(
                shop_dir / f"kept-{stamp(now).replace('-', '').replace(':', '')}"
            )
            left = _place_files(staged, shop_dir, manifest, kept if replace else None)
            _place_history(staged / "history.db", history, manifest, kept)
            # what was put back is a backup of what stands there now
            with suppress(OSError):
                register.note(shop_dir, file, manifest)
    return RestoreReport(
        manifest, kept if kept.exists() else None, left, whole=bool(manifest.files)
    )


def _checked(file: Path, staged: Path, now: datetime) -> Manifest:
    """The backup's members in the folder `staged`, after every check there is."""
    copy = staged / "history.db"
    with in_plain_words(file), open(file, "rb") as begin:
        plain = begin.read(len(SQLITE)) == SQLITE
    manifest = _copied(file, copy, now) if plain else unpack(file, staged)
    if not copy.is_file():
        raise BackupTrouble(f"{file}: this backup holds no history; take another one")
    try:
        found = examine(copy, lambda: now, Tip(manifest.records, manifest.chain))
    except HistoryTrouble as trouble:
        raise BackupTrouble(
            f"{file}: its history is damaged ({trouble.what or trouble}); take another one"
        ) from trouble
    if not found.ok or (found.shop, found.created) != (manifest.shop, manifest.created):
        why = (
            "; ".join(found.problems())
            or "it is of another shop than its manifest says"
        )
        raise BackupTrouble(
            f"{file}: the history in it fails its check ({why}); take another one"
        )
    return manifest


def _copied(file: Path, copy: Path, now: datetime) -> Manifest:
    """The history of an SQLite file and of its logs at `copy`, without the tables that others keep in it.

    The file itself is read in full before, since copying passes over records that damage has hidden.
    """
    source = _readable(file, copy.with_name("found.db"))
    try:
        found = examine(source, lambda: now, read_only=True)
        if not found.shop:
            raise BackupTrouble(
                f"{file}: this database holds no history; take another one"
            )
        if not found.ok:
            raise BackupTrouble(
                f"{file}: it fails its check ({'; '.join(found.problems())}); take another one"
            )
        with closing(schema.connect(source, "ro")) as reader:
            schema.copy_to(reader, copy)
        with closing(schema.connect(copy)) as target:
            for (name,) in target.execute(
                "SELECT name FROM sqlite_master WHERE type = 'table'"
            ).fetchall():
                if name.startswith(schema.STREAMERS):
                    target.execute(f'DROP TABLE "{name}"')
    except sqlite3.OperationalError:
        # of the disk that takes the copy, since the file was just read
        raise
    except (sqlite3.Error, HistoryLost) as error:
        raise BackupTrouble(
            f"{file}: it is damaged or cannot be read ({error}); take another one"
        ) from error
    return Manifest.of(found, now)


def _readable(file: Path, settled: Path) -> Path:
    """The file, or a copy of it at `settled` where SQLite cannot read it without writing to its folder.

    So it is where a program died while it wrote, and of any file in WAL mode on a write-protected disk.
    """
    try:
        with closing(schema.connect(file, "ro")) as source:
            schema.read_about(source)
        return file
    except (sqlite3.Error, UnicodeDecodeError) as error:
        if getattr(error, "sqlite_errorcode", 0) & 0xFF not in (
            sqlite3.SQLITE_CANTOPEN,
            sqlite3.SQLITE_READONLY,
        ):
            return file  # what is wrong with it is told by whoever reads it in full
    for tail in ("", "-journal", "-wal"):
        part = Path(f"{file.resolve()}{tail}")
        if part.exists():
            shutil.copyfile(part, f"{settled}{tail}")
    _settle(settled)
    return settled


def _refuse_if_sound(history: Path, manifest: Manifest, now: datetime) -> None:
    marker = read_marker(history)
    try:
        found = verify(history, lambda: now)
    except NoHistory:
        return
    except HistoryLost:
        if marker and marker.shop not in ("", manifest.shop):
            raise Refusal(
                f"{history.parent} belongs to shop {marker.shop}, but the backup is of shop "
                f"{manifest.shop}; take the shop's own backup, or add --replace"
            ) from None
        return
    if found.ok:
        raise Refusal(
            f"{history.parent} already holds a sound history of {found.records} records; restore "
            "into an empty folder, or add --replace, which keeps the old history aside"
        )


def _place_files(
    staged: Path, shop_dir: Path, manifest: Manifest, kept: Path | None
) -> tuple[str, ...]:
    """Put entries and word lists back; the names of those that differ and, without `kept`, stay."""
    left = []
    for name, _ in manifest.files:
        target, fresh = shop_dir / name, staged / name
        if name == "history.db" or (
            target.is_file() and filecmp.cmp(fresh, target, shallow=False)
        ):
            continue
        if os.path.lexists(target):
            if kept is None:
                left.append(name)
                continue
            _move(target, kept / name)
        durable.sync_file(fresh)
        _move(fresh, target)
    return tuple(left)


def _place_history(fresh: Path, history: Path, manifest: Manifest, kept: Path) -> None:
    """Swap the history; after a crash at any step a history is there or is known to be missing."""
    if marker_path(history).exists():
        kept.mkdir(exist_ok=True)
        (kept / marker_path(history).name).write_bytes(
            marker_path(history).read_bytes()
        )
    write_marker(history, Marker(manifest.shop, manifest.created))
    for old in (
        history,
        *(history.with_name(history.name + tail) for tail in _TAILS),
        tip_path(history),
    ):
        if os.path.lexists(old):
            _move(old, kept / old.name)
    durable.sync_file(fresh)
    _move(fresh, history)
    with suppress(OSError):
        write_tip(history, Tip(manifest.records, manifest.chain))


def _settle(history: Path) -> None:
    """Let the database take back an unfinished write, whose leftovers would otherwise reach the new file."""
    if not history.is_file() or history.stat().st_size == 0:
        return
    try:
        connection = schema.connect(history)
        try:
            connection.execute("BEGIN IMMEDIATE")
            connection.execute("ROLLBACK")
        finally:
            connection.close()
    except sqlite3.Error as error:
        if getattr(error, "sqlite_errorcode", 0) & 0xFF == sqlite3.SQLITE_BUSY:
            raise


def _move(old: Path, new: Path) -> None:
    new.parent.mkdir(parents=True, exist_ok=True)
    os.replace(old, new)
    durable.sync_folder(new.parent)
    durable.sync_folder(old.parent)


def _free_name(wanted: Path) -> Path:
    names = (
        wanted,
        *(wanted.with_name(f"{wanted.name}-{number}") for number in range(2, 1000)),
    )
    return next(name for name in names if not os.path.lexists(name))
