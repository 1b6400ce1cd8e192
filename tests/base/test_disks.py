"""Disks that folders lie on."""

from __future__ import annotations

import os
from pathlib import Path

from kb.base import disks


def test_partitions_and_volumes_are_known_by_their_disk(tmp_path: Path) -> None:
    """As sysfs shows a disk with two partitions, an encrypted volume on the second one, and another disk."""
    for folder in ("sda/sda1", "sda/sda2", "virtual/dm-0/slaves", "sdb", "numbers"):
        (tmp_path / folder).mkdir(parents=True)
    for partition in ("sda1", "sda2"):
        (tmp_path / "sda" / partition / "partition").write_text("1\n")
    (tmp_path / "virtual/dm-0/slaves/sda2").symlink_to(tmp_path / "sda/sda2")
    for number, place in (
        ("8:1", "sda/sda1"),
        ("8:2", "sda/sda2"),
        ("253:0", "virtual/dm-0"),
        ("8:16", "sdb"),
    ):
        (tmp_path / "numbers" / number).symlink_to(tmp_path / place)

    found = [
        disks.whole_disk(os.makedev(*number), tmp_path / "numbers")
        for number in ((8, 1), (8, 2), (253, 0), (8, 16))
    ]

    assert found == [str(tmp_path / name) for name in ("sda", "sda", "sda", "sdb")]
