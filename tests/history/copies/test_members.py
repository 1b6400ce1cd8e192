"""Members of a backup: the shop's own files, no links, nothing hidden."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from helpers.backed_up import NOW

from kb.history.copies.archive import Manifest, pack, unpack
from kb.history.copies.backup import backup, restore
from kb.history.copies.members import own_files
from kb.history.verification import verify


def test_links_and_hidden_files_are_not_backed_up(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "secret.md").write_text("secret")
    (shop / "entries" / "link.md").symlink_to(tmp_path / "secret.md")
    (shop / "entries" / ".lock").write_text("")
    os.mkfifo(shop / "entries" / "pipe.md")
    names = [name for name, _ in backup(shop, tmp_path / "shop.zip", NOW).files]
    assert sorted(names) == [
        "entries/no-light.md",
        "entries/łódź.md",
        "history.db",
        "words.toml",
    ]


def test_files_that_cannot_be_packed_are_left_out_and_named_and_the_rest_is_backed_up(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    entries = shop / "entries"
    with open(entries / "video.mp4", "wb") as video:
        video.truncate(257 << 20)
    os.mkfifo(entries / "pipe.md")
    (entries / "link.md").symlink_to(shop / "words.toml")
    (entries / "linked").symlink_to(tmp_path)
    (entries / "a:b.md").write_text("a name for one system only")
    (entries / "locked").mkdir()
    (entries / "locked" / "sheet.md").write_text("nobody may read this")
    listed = os.scandir

    def denied(path: object) -> object:
        if path == str(entries / "locked"):
            raise PermissionError(13, "Permission denied", path)
        return listed(path)  # type: ignore[call-overload]

    monkeypatch.setattr(os, "scandir", denied)

    manifest = backup(shop, tmp_path / "shop.zip", NOW)

    assert dict(manifest.left_out) == {
        "entries/video.mp4": "it is larger than 256 MiB",
        "entries/pipe.md": "it is no plain file",
        "entries/link.md": "it is a link, and links are not followed",
        "entries/linked": "it is a link, and links are not followed",
        "entries/a:b.md": "its name is too long, lies too deep or holds signs that other systems do not take",
        "entries/locked": "it cannot be read: Permission denied",
    }
    assert {name for name, _ in manifest.files} == {
        "history.db",
        "words.toml",
        "entries/no-light.md",
        "entries/łódź.md",
    }
    assert restore(tmp_path / "shop.zip", tmp_path / "new", NOW).manifest == manifest
    assert verify(tmp_path / "new" / "history.db", lambda: NOW).records == 20


def test_a_file_that_cannot_be_read_after_all_is_left_out(
    shop: Path, tmp_path: Path
) -> None:
    """One removed since the folder was listed, and one that a pipe has taken the place of, at which nobody writes."""
    own = own_files(shop)
    (shop / "entries" / "no-light.md").unlink()
    (shop / "entries" / "łódź.md").unlink()
    os.mkfifo(shop / "entries" / "łódź.md")
    head = Manifest(
        made="2026-11-24T10:15:00Z", shop="s", created="c", records=0, chain="x"
    )

    manifest = pack(tmp_path / "shop.zip", shop / "history.db", own, head)

    assert dict(manifest.left_out) == {
        "entries/no-light.md": "it cannot be read: No such file or directory",
        "entries/łódź.md": "it is no plain file",
    }
    assert unpack(tmp_path / "shop.zip", None) == manifest


def library(folder: Path) -> Path:
    (folder / "house").mkdir(parents=True)
    (folder / "house" / "trade.toml").write_text('areas = ["light"]\n')
    (folder / "lamp-stays-dark.md").write_text("begun")
    (folder / ".git").mkdir()
    (folder / ".git" / "config").write_text("hidden")
    return folder


def test_the_library_that_the_settings_name_is_in_the_backup_wherever_it_lies(
    shop: Path, tmp_path: Path
) -> None:
    place = library(tmp_path / "elsewhere" / "lamps")
    (shop / "shop.toml").write_text(f'library = "{place}"\n')

    manifest = backup(shop, tmp_path / "shop.zip", NOW)

    held = {name for name, _ in manifest.files if name.startswith("library/")}
    assert held == {"library/house/trade.toml", "library/lamp-stays-dark.md"}
    assert restore(tmp_path / "shop.zip", tmp_path / "new", NOW).holds_library
    assert (tmp_path / "new" / "library" / "lamp-stays-dark.md").read_text() == "begun"


@pytest.mark.parametrize("named", ["/", "gone", "~nobody-of-that-name/lamps"])
def test_a_folder_that_is_no_library_is_named_and_never_packed(
    shop: Path, tmp_path: Path, named: str
) -> None:
    (shop / "shop.toml").write_text(f'library = "{named}"\n')

    manifest = backup(shop, tmp_path / "shop.zip", NOW)

    assert dict(manifest.left_out) == {"library": f"{shop / named} holds no library"}
    assert not restore(tmp_path / "shop.zip", tmp_path / "new", NOW).holds_library
