"""Backups of a shop: its history as of one moment, its entries and its words in one checked file."""

from __future__ import annotations

import os
import re
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path

from kb.base import durable
from kb.base.clock import stamp
from kb.base.trouble import Refusal
from kb.history.backups import BACKUPS
from kb.history.copies import register
from kb.history.copies.archive import HISTORY, Manifest, pack, read_manifest
from kb.history.copies.members import own_files
from kb.history.copies.restore import RestoreReport, restore
from kb.history.ledger import Ledger
from kb.history.marks import read_tip
from kb.history.trouble import BackupTrouble, in_plain_words, restore_command
from kb.history.verification import examine

__all__ = ["Manifest", "RestoreReport", "backup", "daily", "renew", "restore", "rotate"]

_PACKED = "backup.zip"
_DAILY = re.compile(r"benchlore-(\d{4}-\d\d-\d\d)\.zip")


def backup(shop_dir: Path, target: Path, now: datetime) -> Manifest:
    """Write a backup of the shop folder to a new file; it is checked and on the disk when this returns.

    Others may go on working meanwhile. A file of the shop's own that cannot be packed is left out and named.
    Raises Refusal if the target exists or its folder does not, BackupTrouble if the copy fails its check, and what
    opening the history raises.
    """
    if os.path.lexists(target):
        raise Refusal(f"{target} exists already; give the backup another name")
    _refuse_if_not_there(shop_dir, target.parent)
    with in_plain_words(target), durable.workshop(target.parent, "backup") as work:
        manifest = _packed(shop_dir, work, now)
        try:
            durable.place_new(work / _PACKED, target)
        except FileExistsError:
            raise Refusal(
                f"{target} exists already; give the backup another name"
            ) from None
    return manifest


def renew(shop_dir: Path, target: Path, now: datetime) -> Manifest:
    """Write a backup like `backup` does, in place of an earlier one of that name; raises what `backup` raises.

    It is noted in the register of backups. A backup there of another shop, or of a history that had more records, is
    a Refusal: it may be the last witness of what is lost.
    """
    _refuse_if_not_there(shop_dir, target.parent)
    with in_plain_words(target), durable.workshop(target.parent, "backup") as work:
        manifest = _packed(shop_dir, work, now)
        before = read_manifest(target)
        if before and (
            before.shop != manifest.shop or before.records > manifest.records
        ):
            raise Refusal(
                f"{target} holds {before.records} records of shop {before.shop}, the history here has "
                f"{manifest.records} of shop {manifest.shop}; move that backup away if it is of no use"
            )
        durable.sync_file(work / _PACKED)
        os.replace(work / _PACKED, target)
        durable.sync_folder(target.parent)
    with suppress(OSError):  # it is made, whatever the shop's own disk says
        register.note(shop_dir, target, manifest)
    return manifest


def _refuse_if_not_there(shop_dir: Path, folder: Path) -> None:
    """Raise Refusal for a folder that is missing, or whose disk is: none is made in its place on the system's disk."""
    if not folder.is_dir():
        raise Refusal(
            f"{folder} is not there; plug in or mount the disk it is on, or make the folder, and try again"
        )
    if register.is_unplugged(shop_dir, folder):
        raise Refusal(
            f"{folder} held backups on another disk, which is not there now; plug it in or mount it and try again, "
            "or give another folder"
        )


def _packed(shop_dir: Path, work: Path, now: datetime) -> Manifest:
    """The checked backup in the file `_PACKED` of the folder `work`.

    A shop with entries or words of its own gets its history by this if there has never been one.
    """
    own, copy = own_files(shop_dir), work / HISTORY
    if own.packed:
        Ledger.open(shop_dir / HISTORY, lambda: now).close()
    head = checked_copy(shop_dir / HISTORY, copy, now)
    return pack(work / _PACKED, copy, own, head)


def daily(shop_dir: Path, now: datetime) -> Path | None:
    """The backup of the day in the folder `backups`, or None if it was made before.

    The day is that of UTC; old ones are rotated out. Raises what `backup` raises, and then removes nothing.
    """
    folder = shop_dir / BACKUPS
    target = folder / f"benchlore-{stamp(now)[:10]}.zip"
    if os.path.lexists(target):
        return None
    with in_plain_words(folder):
        durable.make_folder(folder)
    try:
        backup(shop_dir, target, now)
    except Refusal:  # another process was quicker
        return None
    rotate(folder, spare=target)
    return target


def rotate(
    folder: Path, keep_daily: int = 7, keep_weekly: int = 8, spare: Path | None = None
) -> tuple[Path, ...]:
    """Remove old daily backups and name them: the newest days stay, and of older ones the last of each week.

    Files of other names are left alone, and so is `spare`. Days and weeks (ISO 8601) are those of the
    names, so that a wrong clock removes nothing.
    """
    days = ((_day(path), path) for path in folder.iterdir())
    dated = sorted([(day, path) for day, path in days if day], reverse=True)
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
    return Manifest.of(found, now)


def _day(path: Path) -> date | None:
    match = _DAILY.fullmatch(path.name)
    try:
        return date.fromisoformat(match[1]) if match else None
    except ValueError:
        return None
