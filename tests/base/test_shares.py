"""On which kind of file system a shop lies: a share whose locks may do nothing is told on the pages and by verify."""

from __future__ import annotations

from pathlib import Path

import pytest

from kb.base import shares
from kb.base.shares import share_under
from kb.bench.front import Bench

MOUNTS = """/dev/sda1 / ext4 rw 0 0
server:/shop {root}/far nfs4 rw,nolock 0 0
//server/shop {root}/far/near\\040by cifs rw 0 0
/dev/sdb1 {root}/far/disk ext4 rw 0 0
tmpfs {root}/over tmpfs rw 0 0
host {root}/over 9p rw 0 0
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("shop", ""),
        ("far", "nfs4"),
        ("far/shop", "nfs4"),
        ("farther", ""),
        ("far/near by/shop", "cifs"),
        ("far/disk/shop", ""),
        ("over/shop", "9p"),
    ],
)
def test_the_nearest_mount_says_what_a_folder_lies_on(
    tmp_path: Path, folder: str, kind: str
) -> None:
    mounts = tmp_path / "mounts"
    mounts.write_text(MOUNTS.format(root=tmp_path))

    assert share_under(tmp_path / folder, mounts) == kind


def test_where_nothing_tells_nothing_is_said(tmp_path: Path) -> None:
    (tmp_path / "mounts").write_text("\n\nhalf\n")

    assert share_under(tmp_path, tmp_path / "mounts") == ""
    assert share_under(tmp_path, tmp_path / "none") == ""


def test_a_shop_on_a_share_is_told_on_the_pages_and_by_verify(
    bench: Bench, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.history()
    assert not any(
        "share" in told
        for told in (*bench.health.warnings(), *bench.health.state().problems)
    )

    monkeypatch.setattr(
        shares, "share_under", lambda folder: "nfs4" if folder == bench.folder else ""
    )

    assert any("network share (nfs4)" in told for told in bench.health.warnings())
    assert any("network share (nfs4)" in told for told in bench.health.state().problems)
