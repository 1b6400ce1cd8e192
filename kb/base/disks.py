"""The disks that files lie on, so that a backup beside what it backs up is not taken for one that outlives its disk."""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path

#: What Linux tells of every mount: where it lies and what is mounted there (proc(5)).
MOUNTS = Path("/proc/self/mountinfo")
#: What Linux tells of every block device by its number (sysfs: partitions, and what a volume stands on).
DEVICES = Path("/sys/dev/block")


def same_disk(one: Path, other: Path) -> bool:
    """Whether two files that are there lie on one disk, be it on two of its partitions; raises OSError."""
    return disk_of(one) == disk_of(other)


def disk_of(path: Path) -> str:
    """A name for the disk of a file or folder; partitions and volumes of one disk have one name. Raises OSError.

    Where the system does not tell which disk that is, each file system counts as one.
    """
    device = os.stat(path).st_dev
    if sys.platform == "win32":
        return f"device {device}"
    try:
        source = mounted(path.resolve(), MOUNTS.read_text("utf-8", "surrogateescape"))
        return (
            whole_disk(os.stat(source).st_rdev)
            if source.startswith("/dev/")
            else source
        )
    except (OSError, LookupError):
        return f"device {device}"


def mounted(path: Path, mounts: str) -> str:
    r"""What is mounted where a file lies: a device, or a kind of file system with its source. LookupError: nothing.

    >>> lines = ["36 1 8:2 / / rw - ext4 /dev/sda2 rw", "40 36 0:44 / /mnt/my\\040nas rw - nfs nas:/safe rw"]
    >>> mounted(Path("/srv/shop"), "\n".join(lines)), mounted(Path("/mnt/my nas/friday.zip"), "\n".join(lines))
    ('/dev/sda2', 'nfs nas:/safe')
    """
    found: list[tuple[int, str]] = []
    for line in mounts.splitlines():
        before, _, after = line.partition(" - ")
        place = Path(_unescaped(before.split(" ")[4]))
        kind, source = after.split(" ")[:2]
        if path.is_relative_to(place):
            found.append(
                (
                    len(place.parts),
                    source if source.startswith("/dev/") else f"{kind} {source}",
                )
            )
    if not found:
        raise LookupError(f"{path} lies on nothing that is mounted")
    deepest = max(depth for depth, _ in found)
    # the last one covers those before it
    return [source for depth, source in found if depth == deepest][-1]


def whole_disk(device: int, devices: Path = DEVICES) -> str:
    """The disk that a partition or a volume stands on, by its device number; raises OSError if it is not known."""
    if sys.platform == "win32":
        raise OSError("devices have no such numbers on Windows")
    found = (devices / f"{os.major(device)}:{os.minor(device)}").resolve(strict=True)
    # an encrypted or logical volume
    while below := sorted((found / "slaves").glob("*")):
        found = below[0].resolve(strict=True)
    return str(found.parent if (found / "partition").exists() else found)


def _unescaped(name: str) -> str:
    r"""A name as mountinfo writes it: blanks, tabs, line ends and backslashes in octal."""
    return re.sub(r"\\([0-7]{3})", lambda sign: chr(int(sign[1], 8)), name)
