"""The register of backups: which were made, when and where each lies, and how much of the history they hold.

A backup made by command, and the copy that follows, is noted in a small file of its own in the shop's folder
`backups`; the daily ones there speak for themselves. Notes are no records of the history: a record would change what
was just backed up, so that the copy that follows would chase its own tail, and no shop that cannot be written to could
be backed up. A file for each place needs no lock between processes.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path

from kb.base import disks, durable
from kb.base.clock import stamp
from kb.base.trouble import Refusal
from kb.history.backups import BACKUPS
from kb.history.copies.archive import Manifest, read_manifest, unpack
from kb.history.ids import derived_id
from kb.history.intake import moment
from kb.history.memory import History
from kb.history.trouble import BackupTrouble

#: So long a history with records may be without a sound backup of all of them before it is a problem.
PATIENCE = timedelta(days=2)

#: Notes kept; older ones are removed, the backups they tell of are left alone.
MOST_NOTES = 30

_NOTES = "noted-*.json"
#: What reading a note of something else than a backup meets.
_UNREADABLE = (OSError, ValueError, TypeError, LookupError, Refusal)


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A backup: its file, when it was made (UTC), and the end of the history that it holds.

    `elsewhere` says that it lies on another disk than the shop; `left_out` names the shop's own files it does not hold.
    """

    file: str
    made: str
    records: int
    chain: str
    elsewhere: bool
    left_out: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """The name of its file."""
        return Path(self.file).name


@dataclass(frozen=True, slots=True, kw_only=True)
class BackedUp:
    """How far a history is in backups.

    `last` holds most of it, of several such the latest; `elsewhere` likewise among those on another disk. `waiting`
    records are in no backup, since the time `since` (UTC); `overdue` if that is longer than `PATIENCE`. `damaged` says
    of backups that fail their check what is wrong with them.
    """

    last: Made | None
    elsewhere: Made | None
    waiting: int
    since: str
    overdue: bool
    damaged: tuple[str, ...] = ()

    def problems(self) -> tuple[str, ...]:
        """A sentence for each thing that is wrong, with what to do."""
        found = list(self.damaged)
        if self.overdue:
            records = (
                "1 record is" if self.waiting == 1 else f"{self.waiting} records are"
            )
            found.append(
                f"{records} in no backup since {self.since}; make one with: benchlore backup FILE"
            )
        return tuple(found)


def note(shop_dir: Path, file: Path, manifest: Manifest) -> Made:
    """The note of a backup that lies in that file now, kept in place of an earlier one of the same file.

    It is on the disk when this returns. Raises OSError.
    """
    made = _made(file, manifest, _on_another_disk(shop_dir, file))
    folder = shop_dir / BACKUPS
    durable.make_folder(folder)
    told = json.dumps(asdict(made), indent=1) + "\n"
    durable.write_whole(
        folder / f"noted-{derived_id(ascii(made.file))}.json", told.encode()
    )
    for old in sorted(folder.glob(_NOTES), key=_changed, reverse=True)[MOST_NOTES:]:
        with suppress(OSError):
            old.unlink()
    return made


def known(shop_dir: Path) -> Iterator[Made]:
    """Every backup of the shop that is known of, in no order.

    Files on other disks are taken at their note's word: looking for them could take long. What was removed from the
    shop's own disk is left out.
    """
    folder = shop_dir / BACKUPS
    elsewhere = _on_another_disk(shop_dir, folder)
    for daily in folder.glob("benchlore-*.zip"):
        if made := _daily(daily, elsewhere):
            yield made
    yield from (
        made for made in _notes(shop_dir) if made.elsewhere or os.path.exists(made.file)
    )


def backed_up(
    history: History | None, shop_dir: Path, now: datetime, thorough: bool = False
) -> BackedUp:
    """How far the history is in the backups known of; of one that cannot be read (None), which backups there are.

    With `thorough` those that count are read whole, as far as their disks are there. Raises what reading the history
    raises.
    """
    fitting = sorted(
        (made for made in known(shop_dir) if _fits(made.records, made.chain, history)),
        key=_worth,
    )
    damaged: dict[str, str] = {}
    if thorough:
        fitting = _looked_through(fitting, shop_dir, history, damaged)
    last = _best(fitting, _any)
    held = last.records if last else 0
    waiting = history.tip().count - held if history else 0
    since = _since(history, last, now) if history and waiting else None
    return BackedUp(
        last=last,
        elsewhere=_best(fitting, _elsewhere),
        waiting=waiting,
        since=stamp(since) if since else "",
        overdue=since is not None and now - since > PATIENCE,
        damaged=tuple(damaged.values()),
    )


def is_unplugged(shop_dir: Path, folder: Path) -> bool:
    """Whether a folder on the shop's own disk stands where backups on another disk were made before: its disk is away.

    So it is with a place where disks are mounted.
    """
    place = os.path.abspath(folder)
    before = any(
        made.elsewhere and os.path.dirname(made.file) == place
        for made in _notes(shop_dir)
    )
    return before and not _on_another_disk(shop_dir, folder)


def _on_another_disk(shop_dir: Path, path: Path) -> bool:
    """Whether a file or folder is known to lie on another disk than the shop."""
    try:
        return not disks.same_disk(shop_dir, path)
    except OSError:
        return False


def _notes(shop_dir: Path) -> Iterator[Made]:
    for path in sorted((shop_dir / BACKUPS).glob(_NOTES)):
        # a note that cannot be read tells of nothing
        with suppress(OSError, ValueError, TypeError, LookupError, Refusal):
            told = json.loads(path.read_bytes())
            yield Made(
                file=str(told["file"]),
                made=moment(told["made"]),
                records=int(told["records"]),
                chain=str(told["chain"]),
                elsewhere=bool(told["elsewhere"]),
                left_out=tuple(map(str, told["left_out"])),
            )


def _daily(file: Path, elsewhere: bool) -> Made | None:
    """A daily backup by what it says of itself, None if that cannot be read."""
    try:
        stamp = file.stat()
        manifest = _read_once(file, stamp.st_mtime_ns, stamp.st_size)
        return _made(file, manifest, elsewhere) if manifest else None
    except (OSError, ValueError, Refusal):
        return None


@lru_cache(maxsize=64)
def _read_once(file: Path, changed: int, size: int) -> Manifest | None:  # noqa: ARG001 - another stamp is another file
    return read_manifest(file)


def _made(file: Path, manifest: Manifest, elsewhere: bool) -> Made:
    return Made(
        file=os.path.abspath(file),
        made=moment(manifest.made),
        records=manifest.records,
        chain=manifest.chain,
        elsewhere=elsewhere,
        left_out=tuple(name for name, _ in manifest.left_out),
    )


def _since(history: History, last: Made | None, now: datetime) -> datetime | None:
    """Since when records are in no backup: their first time, but not before the last backup, which has them not."""
    first = _time(history.first_time_after(last.records if last else 0))
    made = _time(last.made if last else history.created)
    if made and made <= now:
        return max(first, made) if first else made
    return first


def _time(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(moment(text))
    except (ValueError, Refusal):
        return None


def _looked_through(
    fitting: Sequence[Made],
    shop_dir: Path,
    history: History | None,
    damaged: dict[str, str],
) -> list[Made]:
    """The backups that are there, the best of all and the best on another disk sound; `damaged` tells of others."""
    left = [made for made in fitting if not _is_gone(made, shop_dir)]
    for wanted in (_any, _elsewhere):
        best = _best(left, wanted)
        while best:
            why = _fault(Path(best.file), history)
            if not why:
                break
            damaged[best.file] = why
            left.remove(best)
            best = _best(left, wanted)
    return left


def _best(fitting: Sequence[Made], wanted: Callable[[Made], bool]) -> Made | None:
    """The last of the wanted ones, which are sorted by worth."""
    return next((made for made in reversed(fitting) if wanted(made)), None)


def _is_gone(made: Made, shop_dir: Path) -> bool:
    """Whether a backup was removed from its disk; one whose disk is not there may well be on it."""
    folder = Path(made.file).parent
    away = not folder.is_dir() or (
        made.elsewhere and not _on_another_disk(shop_dir, folder)
    )
    return not away and not os.path.isfile(made.file)


def _fits(records: int, chain: str, history: History | None) -> bool:
    """Whether a backup that ends so is one of the history, which goes on from there."""
    return history is None or history.link(records) == chain


def _fault(file: Path, history: History | None) -> str:
    """What is wrong with the backup of a history, empty if nothing is or if its disk is not there."""
    # the latter is a history file or a mirror that was put back
    if not file.is_file() or file.suffix == ".db":
        return ""
    try:
        found = unpack(file, None)
    except (BackupTrouble, OSError) as trouble:
        return str(trouble)
    return (
        ""
        if _fits(found.records, found.chain, history)
        else f"{file} is no longer the backup that was made there"
    )


def _any(_: Made) -> bool:
    return True


def _elsewhere(made: Made) -> bool:
    return made.elsewhere


def _worth(made: Made) -> tuple[int, str]:
    return made.records, made.made


def _changed(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except OSError:
        return 0.0
