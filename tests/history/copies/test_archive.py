"""The archive: a plain zip that says what it holds, and is refused where it does not fit."""

from __future__ import annotations

import hashlib
import json
import random
import shutil
import zipfile
from collections.abc import Mapping
from pathlib import Path
from types import SimpleNamespace

import pytest
from helpers.backed_up import NOW, everything

from kb.history import History
from kb.history.copies import archive
from kb.history.copies.backup import backup, restore
from kb.history.trouble import BackupTrouble


def test_a_backup_is_a_plain_zip_that_says_what_it_holds(
    shop: Path, tmp_path: Path
) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    with zipfile.ZipFile(tmp_path / "shop.zip") as archive:
        told = json.loads(archive.read("manifest.json"))
        digests = {
            name: hashlib.sha256(archive.read(name)).hexdigest()
            for name in archive.namelist()
            if name != "manifest.json"
        }
    with History.open(shop / "history.db") as history:
        assert (told["records"], told["chain"]) == (20, history.tip().chain)
        assert (told["shop"], told["created"]) == (history.shop, history.created)
    assert told["files"] == digests
    assert sorted(digests) == [
        "entries/no-light.md",
        "entries/łódź.md",
        "history.db",
        "words.toml",
    ]


def repacked(
    source: Path, target: Path, members: Mapping[str, bytes], **told: object
) -> Path:
    """The backup again with other members and another manifest that fits them, unless `told` otherwise."""
    with zipfile.ZipFile(source) as archive:
        content = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(content.pop("manifest.json"))
    content.update(members)
    manifest["files"] = {
        name: hashlib.sha256(raw).hexdigest() for name, raw in content.items()
    }
    manifest.update(told)
    with zipfile.ZipFile(target, "w") as archive:
        for name, raw in content.items():
            archive.writestr(zipfile.ZipInfo(name), raw)
        archive.writestr("manifest.json", json.dumps(manifest))
    return target


@pytest.mark.parametrize(
    "name",
    [
        "../evil.md",
        "entries/../../evil.md",
        "entries/..",
        "/tmp/evil.md",
        "entries\\..\\evil.md",
        "C:/evil.md",
        "entries//evil.md",
        "entries/.evil.md",
        "history.id",
        "history.db-journal",
        "evil.py",
        "entries/a/../b.md",
        "entries",
        "entries/",
        "words.toml/../../evil.md",
    ],
)
def test_a_backup_with_a_name_that_leads_elsewhere_is_refused_whole(
    shop: Path, tmp_path: Path, name: str
) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    evil = repacked(tmp_path / "shop.zip", tmp_path / "evil.zip", {name: b"evil"})
    before = sorted(path for path in tmp_path.rglob("*"))
    with pytest.raises(BackupTrouble, match="no sound backup"):
        restore(evil, tmp_path / "new", NOW)
    assert (
        sorted(path for path in tmp_path.rglob("*") if path != tmp_path / "new")
        == before
    )
    assert list((tmp_path / "new").iterdir()) == []


def test_a_backup_that_does_not_fit_its_manifest_is_refused(
    shop: Path, tmp_path: Path
) -> None:
    source = tmp_path / "shop.zip"
    backup(shop, source, NOW)
    database = (shop / "history.db").read_bytes()
    wrong: list[tuple[dict[str, bytes], dict[str, object]]] = [
        ({}, {"records": 19}),
        ({}, {"chain": "0" * 64}),
        ({}, {"shop": "another"}),
        ({}, {"files": {}}),
        ({}, {"format": "another"}),
        ({}, {"records": "many"}),
        ({}, {"files": ["history.db"]}),
        ({"history.db": b""}, {}),
        ({"history.db": b"text" * 1000}, {}),
        ({"history.db": database[:9000]}, {}),
        ({"history.db": database.replace(b"SN-123456", b"SN-123457")}, {}),
    ]
    for number, (members, told) in enumerate(wrong):
        bad = repacked(source, tmp_path / f"{number}.zip", members, **told)
        with pytest.raises(BackupTrouble, match="take another one"):
            restore(bad, tmp_path / "new", NOW)
    assert list((tmp_path / "new").iterdir()) == []


def test_a_damaged_backup_file_is_refused_and_nothing_is_touched(
    shop: Path, tmp_path: Path
) -> None:
    source = tmp_path / "shop.zip"
    backup(shop, source, NOW)
    before, sound, chance = everything(shop), source.read_bytes(), random.Random(7)
    (shop / "history.db").rename(tmp_path / "safe.db")
    harmed = [b"", b"text", sound[:-30], sound[: len(sound) // 2]]
    for _ in range(40):
        flipped = bytearray(sound)
        flipped[chance.randrange(len(sound))] ^= 1 << chance.randrange(8)
        harmed.append(bytes(flipped))
    refused = 0
    for raw in harmed:
        source.write_bytes(raw)
        try:
            restore(source, tmp_path / "new", NOW)
        except BackupTrouble:
            refused += 1
            assert list((tmp_path / "new").iterdir()) == []
        else:  # the flip hit a date or another field that carries nothing
            assert everything(tmp_path / "new") == before
            shutil.rmtree(tmp_path / "new")
    assert refused > 30


@pytest.mark.parametrize(
    ("mark", "place", "wrong"),
    [
        pytest.param(
            b"PK\5\6",
            16,
            b"\xff\xff\xff",
            id="the list of members is said to begin behind its end",
        ),
        pytest.param(
            b"PK\1\2", 10, b"\x0c\x00", id="a member is said to be packed by bzip2"
        ),
        pytest.param(
            b"PK\1\2", 10, b"\x0e\x00", id="a member is said to be packed by LZMA"
        ),
    ],
)
def test_a_zip_with_a_damaged_list_of_members_is_no_sound_backup(
    shop: Path, tmp_path: Path, mark: bytes, place: int, wrong: bytes
) -> None:
    """The places are those of PKWARE's APPNOTE, 4.3.12 and 4.3.16; none of it is the fault of the disk."""
    source = tmp_path / "shop.zip"
    backup(shop, source, NOW)
    raw = bytearray(source.read_bytes())
    begin = raw.rindex(mark) + place
    raw[begin : begin + len(wrong)] = wrong
    source.write_bytes(raw)

    with pytest.raises(BackupTrouble, match="no sound backup"):
        restore(source, tmp_path / "new", NOW)


def test_the_folder_that_a_backup_is_looked_at_in_is_never_named(
    shop: Path, tmp_path: Path
) -> None:
    backup(shop, tmp_path / "b.zip", NOW)
    told = {"history.db": bytes(4096)}
    _rewritten(tmp_path / "b.zip", tmp_path / "bad.zip", told)

    with pytest.raises(BackupTrouble) as trouble:
        restore(tmp_path / "bad.zip", tmp_path / "new", NOW)

    assert ".benchlore-restore" not in str(trouble.value)
    assert str(trouble.value).startswith(f"{tmp_path / 'bad.zip'}:")


@pytest.mark.parametrize(
    ("room", "why"), [(1 << 40, "no database"), (100, "has room for")]
)
def test_a_small_zip_that_unpacks_to_much_is_refused_before_it_is_unpacked(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, room: int, why: str
) -> None:
    backup(shop, tmp_path / "b.zip", NOW)
    _rewritten(
        tmp_path / "b.zip", tmp_path / "bad.zip", {"history.db": bytes(64 << 20)}
    )
    monkeypatch.setattr(archive, "disk_usage", lambda _: SimpleNamespace(free=room))
    with pytest.raises(BackupTrouble, match=why):
        restore(tmp_path / "bad.zip", tmp_path / "new", NOW)


def _rewritten(source: Path, target: Path, members: Mapping[str, bytes]) -> None:
    """A backup with other members, sealed as its own."""
    with (
        zipfile.ZipFile(source) as old,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        manifest = json.loads(old.read("manifest.json"))
        for name in old.namelist():
            if name != "manifest.json":
                content = members.get(name, old.read(name))
                manifest["files"][name] = hashlib.sha256(content).hexdigest()
                new.writestr(name, content)
        new.writestr("manifest.json", json.dumps(manifest))
