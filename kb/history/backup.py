"""Backups of a shop: its history as of one moment, its entries and its words in one checked file."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from datetime import date, datetime
from pathlib import Path

from kb import durable
from kb.history.archive import MEMBER_LIMIT, Manifest, is_member, pack, read_manifest
from kb.history.clock import stamp
from kb.history.ledger import Ledger
from kb.history.marks import read_tip
from kb.history.restore import RestoreReport, restore
from kb.history.trouble import BACKUPS, BackupTrouble, Refusal, in_plain_words, restore_command
from kb.history.verification import examine

__all__ = ["Manifest", "RestoreReport", "backup", "daily", "renew", "restore", "rotate"]

_PACKED = "backup.zip"
_DAILY = re.compile(r"benchlore-(\d{4}-\d\d-\d\d)\.zip")


def backup(shop_dir: Path, target: Path, now: datetime) -> Manifest:
    """Write a backup of the shop folder to a new file; it is checked and on the disk when this returns.

    Others may go on working meanwhile. Raises Refusal if the target exists, BackupTrouble if the copy
    fails its check, and what opening the history raises.
    """
    if os.path.lexists(target):
        raise Refusal(f"{target} exists already; give the backup another name")
    with in_plain_words(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        with durable.workshop(target.parent, "backup") as work:
            manifest = _packed(shop_dir, work, now)
            try:
                durable.place_new(work / _PACKED, target)
            except FileExistsError:
                raise Refusal(f"{target} exists already; give the backup another name") from None
    return manifest


def renew(shop_dir: Path, target: Path, now: datetime) -> Manifest:
    """Write a backup like `backup` does, in place of an earlier one of that name; raises what `backup` raises.

    A backup there of another shop, or of a history that had more records, is a Refusal: it may be the last
    witness of what is lost.
    """
    with in_plain_words(target):
        durable.make_folder(target.parent)
        with durable.workshop(target.parent, "backup") as work:
            manifest = _packed(shop_dir, work, now)
            before = read_manifest(target)
            if before and (before.shop != manifest.shop or before.records > manifest.records):
                raise Refusal(
                    f"{target} holds {before.records} records of shop {before.shop}, the history here has "
                    f"{manifest.records} of shop {manifest.shop}; move that backup away if it is of no use"
                )
            durable.sync_file(work / _PACKED)
            os.replace(work / _PACKED, target)
            durable.sync_folder(target.parent)
    return manifest


def _packed(shop_dir: Path, work: Path, now: datetime) -> Manifest:
    """The checked backup in the file `_PACKED` of the folder `work`."""
    copy = work / "history.db"
    head = checked_copy(shop_dir / "history.db", copy, now)
    return pack(work / _PACKED, [("history.db", copy), *_own_files(shop_dir)], head)


def daily(shop_dir: Path, now: datetime) -> Path | None:
    """The backup of the day in the folder `backups`, or None if it was made before.

    The day is that of UTC; old ones are rotated out. Raises what `backup` raises, and then removes nothing.
    """
    folder = shop_dir / BACKUPS
    target = folder / f"benchlore-{stamp(now)[:10]}.zip"
    if os.path.lexists(target):
        return None
    try:
        backup(shop_dir, target, now)
    except Refusal:  # another process was quicker
        return None
    rotate(folder, spare=target)
    return target


def rotate(folder: Path, keep_daily: int = 7, keep_weekly: int = 8, spare: Path | None = None) -> tuple[Path, ...]:
    """Remove old daily backups and name them: the newest days stay, and of older ones the last of each week.

    Files of other names are left alone, and so is `spare`. Days and weeks (ISO 8601) are those of the
    names, so that a wrong clock removes nothing.
    """
    dated = sorted(((day, path) for path in folder.iterdir() if (day := _day(path))), reverse=True)
    kept = {path for _, path in dated[:keep_daily]} | {spare}
    weeks: dict[tuple[int, int], Path] = {}
    for day, path in dated[keep_daily:]:
        weeks.setdefault(day.isocalendar()[:2], path)
    kept |= set(list(weeks.values())[:keep_weekly])
    removed = tuple(path for _, path in reversed(dated) if path not in kept)
    for path in removed:
        path.unlink(missing_ok=True)
    return removed


def checked_copy(history: Path, copy: Path, now: datetime) -> Manifest:
    """Write a copy of the history as of one moment to a new file, and say what is in it.

    Raises BackupTrouble if it is not sound, what opening the history raises, and what `Ledger.copy_to` leaves unnamed.
    """
    tip = read_tip(history)
    with Ledger.open(history, lambda: now, create=False) as ledger:
        ledger.copy_to(copy)
    found = examine(copy, lambda: now, tip)
    if not found.ok:
        why = "; ".join(found.problems())
        raise BackupTrouble(
            f"{history} failed its check, no backup was made ({why}); "
            f"put the last good one back with: {restore_command(history)}"
        )
    return Manifest(stamp(now), found.shop, found.created, found.records, found.chain, ())


def _own_files(shop_dir: Path) -> Iterator[tuple[str, Path]]:
    """The shop's entries and word lists by name: plain files only, links and pipes are not followed."""
    folders = [folder for folder, _, _ in os.walk(shop_dir / "entries")]
    for folder in [str(shop_dir), *sorted(folders)]:
        for found in sorted(os.scandir(folder), key=lambda found: found.name):
            name = Path(found.path).relative_to(shop_dir).as_posix()
            if is_member(name) and name != "history.db" and found.is_file(follow_symlinks=False):
                if found.stat().st_size > MEMBER_LIMIT:
                    raise BackupTrouble(
                        f"{found.path} is larger than {MEMBER_LIMIT >> 20} MiB; move it out of the shop folder"
                    )
                yield name, Path(found.path)


def _day(path: Path) -> date | None:
    match = _DAILY.fullmatch(path.name)
    try:
        return date.fromisoformat(match[1]) if match else None
    except ValueError:
        return None
