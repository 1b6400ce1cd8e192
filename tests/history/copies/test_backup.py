"""Backups: made while others work, checked, put back, and never in place of something sound."""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from helpers.places import ROOT
from helpers.shops import quick_folder

from kb.base.trouble import Refusal
from kb.history import History
from kb.history.copies import archive
from kb.history.copies.archive import Manifest, pack, unpack
from kb.history.copies.backup import backup, daily, restore, rotate
from kb.history.copies.members import own_files
from kb.history.marks import read_marker
from kb.history.trouble import BackupTrouble, HistoryForeign, HistoryLost, NoHistory
from kb.history.verification import verify
from kb.model import Confirmation

NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    with quick_folder() as folder:
        yield folder


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop of twenty closed jobs, two entries of its own and its own words."""
    shop = tmp_path / "shop"
    add_jobs(shop, 20)
    (shop / "entries").mkdir()
    (shop / "entries" / "no-light.md").write_text("---\ntitle: No light\n---\n", encoding="utf-8")
    (shop / "entries" / "łódź.md").write_text("own entry", encoding="utf-8")
    (shop / "words.toml").write_text('[same]\njack = ["socket"]\n', encoding="utf-8")
    return shop


def add_jobs(shop: Path, count: int) -> None:
    with History.open(shop / "history.db", lambda: NOW) as history, history.together():
        for unit in range(count):
            history.close_job(Confirmation("no-light/dc-jack", model="Tern 13", unit=f"T-{unit}"))


def everything(shop: Path) -> dict[str, object]:
    """All that matters of a shop: its records and the content of its own files."""
    with History.open(shop / "history.db", create=False) as history:
        found: dict[str, object] = {"records": list(history.records_since()), "shop": history.shop}
    for path in [shop / "words.toml", *(shop / "entries").rglob("*")]:
        found[str(path.relative_to(shop))] = path.read_bytes()
    return found


def test_texts_that_were_put_away_and_settings_come_back_too(shop: Path, tmp_path: Path) -> None:
    (shop / "entries" / ".kept").mkdir()
    (shop / "entries" / ".kept" / "no-light-2026-03-01.md").write_text("put away", encoding="utf-8")
    (shop / "shop.toml").write_text('lacks = ["multimeter"]\n', encoding="utf-8")
    (tmp_path / "safe").mkdir()
    backup(shop, tmp_path / "safe" / "shop.zip", NOW)
    shutil.rmtree(shop)

    restore(tmp_path / "safe" / "shop.zip", shop, NOW)

    assert (shop / "entries" / ".kept" / "no-light-2026-03-01.md").read_text(encoding="utf-8") == "put away"
    assert (shop / "shop.toml").read_text(encoding="utf-8") == 'lacks = ["multimeter"]\n'


def test_a_destroyed_shop_comes_back_from_its_backup(shop: Path, tmp_path: Path) -> None:
    before = everything(shop)
    (tmp_path / "safe").mkdir()
    manifest = backup(shop, tmp_path / "safe" / "shop.zip", NOW)
    shutil.rmtree(shop)

    report = restore(tmp_path / "safe" / "shop.zip", shop, NOW)

    assert report.manifest == manifest
    assert (report.kept, report.left) == (None, ())
    assert everything(shop) == before
    assert verify(shop / "history.db", lambda: NOW).ok
    assert verify(shop / "history.db", lambda: NOW).tip == "in step"
    assert sorted(path.name for path in shop.iterdir()) == [
        "backups",
        "entries",
        "history.db",
        "history.id",
        "history.tip",
        "words.toml",
    ]


def test_a_restored_history_takes_new_records(shop: Path, tmp_path: Path) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    restore(tmp_path / "shop.zip", tmp_path / "new", NOW)
    add_jobs(tmp_path / "new", 1)
    assert verify(tmp_path / "new" / "history.db", lambda: NOW).records == 21


def test_a_backup_is_a_plain_zip_that_says_what_it_holds(shop: Path, tmp_path: Path) -> None:
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
    assert sorted(digests) == ["entries/no-light.md", "entries/łódź.md", "history.db", "words.toml"]


WRITER = """
import sys
from pathlib import Path
from kb.history import History, kinds
with History.open(Path(sys.argv[1])) as history:
    while True:
        print(history.note(kinds.NO_FIT, "", {"words": "x" * 200}).seq, flush=True)
"""


def test_a_backup_made_under_load_holds_all_that_was_acknowledged_before(shop: Path, tmp_path: Path) -> None:
    writer = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(shop / "history.db")], cwd=ROOT, text=True, stdout=subprocess.PIPE
    )
    assert writer.stdout is not None
    for copy in range(3):
        for _ in range(10):
            acknowledged = int(writer.stdout.readline())
        manifest = backup(shop, tmp_path / f"{copy}.zip", NOW)
        assert manifest.records >= acknowledged
    writer.kill()
    writer.communicate()
    restore(tmp_path / "2.zip", tmp_path / "new", NOW)
    assert verify(tmp_path / "new" / "history.db", lambda: NOW).records == manifest.records


def test_an_existing_file_is_never_overwritten_by_a_backup(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "shop.zip").write_text("something else")
    with pytest.raises(Refusal, match="exists already; give the backup another name"):
        backup(shop, tmp_path / "shop.zip", NOW)
    assert (tmp_path / "shop.zip").read_text() == "something else"


def test_a_shop_without_a_history_has_nothing_to_back_up(tmp_path: Path) -> None:
    with pytest.raises(NoHistory):
        backup(tmp_path / "shop", tmp_path / "shop.zip", NOW)
    assert not (tmp_path / "shop.zip").exists()


def edit_a_record(path: Path) -> None:
    raw = path.read_bytes()
    assert b"T-11" in raw
    path.write_bytes(raw.replace(b"T-11", b"T-77"))


def cut_the_tail(path: Path) -> None:
    earlier = path.read_bytes()
    add_jobs(path.parent, 1)
    path.write_bytes(earlier)


@pytest.mark.parametrize("harm", [edit_a_record, cut_the_tail])
def test_a_history_that_is_not_sound_is_not_backed_up(shop: Path, tmp_path: Path, harm: Callable[[Path], None]) -> None:
    harm(shop / "history.db")
    with pytest.raises(BackupTrouble, match=f"no backup was made .*benchlore restore FILE --shop {shop}"):
        backup(shop, tmp_path / "shop.zip", NOW)
    assert [path.name for path in tmp_path.iterdir()] == ["shop"]


def test_links_and_hidden_files_are_not_backed_up(shop: Path, tmp_path: Path) -> None:
    (tmp_path / "secret.md").write_text("secret")
    (shop / "entries" / "link.md").symlink_to(tmp_path / "secret.md")
    (shop / "entries" / ".lock").write_text("")
    os.mkfifo(shop / "entries" / "pipe.md")
    names = [name for name, _ in backup(shop, tmp_path / "shop.zip", NOW).files]
    assert sorted(names) == ["entries/no-light.md", "entries/łódź.md", "history.db", "words.toml"]


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


def test_a_file_that_cannot_be_read_after_all_is_left_out(shop: Path, tmp_path: Path) -> None:
    """One removed since the folder was listed, and one that a pipe has taken the place of, at which nobody writes."""
    own = own_files(shop)
    (shop / "entries" / "no-light.md").unlink()
    (shop / "entries" / "łódź.md").unlink()
    os.mkfifo(shop / "entries" / "łódź.md")
    head = Manifest(made="2026-11-24T10:15:00Z", shop="s", created="c", records=0, chain="x")

    manifest = pack(tmp_path / "shop.zip", shop / "history.db", own, head)

    assert dict(manifest.left_out) == {
        "entries/no-light.md": "it cannot be read: No such file or directory",
        "entries/łódź.md": "it is no plain file",
    }
    assert unpack(tmp_path / "shop.zip", None) == manifest


def test_a_sound_history_is_not_replaced_unless_asked(shop: Path, tmp_path: Path) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    add_jobs(shop, 1)
    before = everything(shop)
    with pytest.raises(Refusal, match=r"already holds a sound history of 21 records.*--replace"):
        restore(tmp_path / "shop.zip", shop, NOW)
    assert everything(shop) == before


def test_what_is_replaced_is_kept_aside_under_a_dated_name(shop: Path, tmp_path: Path) -> None:
    before = everything(shop)
    backup(shop, tmp_path / "shop.zip", NOW)
    add_jobs(shop, 1)
    (shop / "entries" / "no-light.md").write_text("edited since")
    (shop / "entries" / "new.md").write_text("written since")

    report = restore(tmp_path / "shop.zip", shop, NOW, replace=True)

    assert report.kept == shop / "kept-20261124T101500Z"
    assert (report.kept / "entries" / "no-light.md").read_text() == "edited since"
    assert verify(report.kept / "history.db", lambda: NOW).records == 21
    assert (shop / "entries" / "new.md").read_text() == "written since"
    (shop / "entries" / "new.md").unlink()
    assert everything(shop) == before
    assert restore(tmp_path / "shop.zip", shop, NOW, replace=True).kept == shop / "kept-20261124T101500Z-2"


def vanish(path: Path) -> None:
    path.unlink()


def empty(path: Path) -> None:
    path.write_bytes(b"")


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:5000])


def leave_a_journal(path: Path) -> None:
    """No file, but the live journal of an unfinished write, which would be played into any file put there."""
    add_jobs(path.parent, 30)
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA cache_size = 1")
    connection.execute("BEGIN IMMEDIATE")
    for seq in range(51, 400):
        connection.execute(
            "INSERT INTO records VALUES (?, ?, '', '', '', 'x', ?, NULL, '')", (seq, str(seq), "x" * 500)
        )
    journal = path.with_name("history.db-journal").read_bytes()
    connection.execute("ROLLBACK")
    connection.close()
    path.unlink()
    path.with_name("history.db-journal").write_bytes(journal)


@pytest.mark.parametrize("harm", [vanish, empty, cut, leave_a_journal, edit_a_record, cut_the_tail])
def test_a_lost_history_comes_back_by_the_command_it_names(
    shop: Path, tmp_path: Path, harm: Callable[[Path], None]
) -> None:
    before = everything(shop)
    backup(shop, tmp_path / "shop.zip", NOW)
    harm(shop / "history.db")
    harmed = (shop / "history.db").read_bytes() if (shop / "history.db").exists() else None

    report = restore(tmp_path / "shop.zip", shop, NOW)

    assert report.kept is not None
    if harmed is not None:
        assert (report.kept / "history.db").read_bytes() == harmed
    assert verify(shop / "history.db", lambda: NOW).ok
    assert everything(shop) == before
    assert not list(shop.glob("history.db-*"))


def test_entries_edited_since_stay_when_only_the_history_was_lost(shop: Path, tmp_path: Path) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    (shop / "history.db").unlink()
    (shop / "entries" / "no-light.md").write_text("edited since")
    (shop / "words.toml").unlink()
    report = restore(tmp_path / "shop.zip", shop, NOW)
    assert report.left == ("entries/no-light.md",)
    assert (shop / "entries" / "no-light.md").read_text() == "edited since"
    assert (shop / "words.toml").exists()


def test_the_backup_of_another_shop_is_put_in_only_when_asked(shop: Path, tmp_path: Path) -> None:
    add_jobs(tmp_path / "other", 3)
    backup(tmp_path / "other", tmp_path / "other.zip", NOW)
    (shop / "history.db").unlink()
    with pytest.raises(Refusal, match="belongs to shop"):
        restore(tmp_path / "other.zip", shop, NOW)
    with pytest.raises(HistoryLost):
        History.open(shop / "history.db")
    restore(tmp_path / "other.zip", shop, NOW, replace=True)
    assert read_marker(shop / "history.db") == read_marker(tmp_path / "other" / "history.db")
    assert verify(shop / "history.db", lambda: NOW).records == 3


def test_another_programs_database_is_not_moved_away_unasked(shop: Path, tmp_path: Path) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "history.db").write_text("notes on history\n" * 100)
    with pytest.raises(HistoryForeign, match="--replace"):
        restore(tmp_path / "shop.zip", tmp_path / "new", NOW)
    assert (tmp_path / "new" / "history.db").read_text().startswith("notes")


def repacked(source: Path, target: Path, members: Mapping[str, bytes], **told: object) -> Path:
    """The backup again with other members and another manifest that fits them, unless `told` otherwise."""
    with zipfile.ZipFile(source) as archive:
        content = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(content.pop("manifest.json"))
    content.update(members)
    manifest["files"] = {name: hashlib.sha256(raw).hexdigest() for name, raw in content.items()}
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
def test_a_backup_with_a_name_that_leads_elsewhere_is_refused_whole(shop: Path, tmp_path: Path, name: str) -> None:
    backup(shop, tmp_path / "shop.zip", NOW)
    evil = repacked(tmp_path / "shop.zip", tmp_path / "evil.zip", {name: b"evil"})
    before = sorted(path for path in tmp_path.rglob("*"))
    with pytest.raises(BackupTrouble, match="no sound backup"):
        restore(evil, tmp_path / "new", NOW)
    assert sorted(path for path in tmp_path.rglob("*") if path != tmp_path / "new") == before
    assert list((tmp_path / "new").iterdir()) == []


def test_a_backup_that_does_not_fit_its_manifest_is_refused(shop: Path, tmp_path: Path) -> None:
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
        ({"history.db": database.replace(b"T-11", b"T-77")}, {}),
    ]
    for number, (members, told) in enumerate(wrong):
        bad = repacked(source, tmp_path / f"{number}.zip", members, **told)
        with pytest.raises(BackupTrouble, match="take another one"):
            restore(bad, tmp_path / "new", NOW)
    assert list((tmp_path / "new").iterdir()) == []


def test_a_damaged_backup_file_is_refused_and_nothing_is_touched(shop: Path, tmp_path: Path) -> None:
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
        pytest.param(b"PK\5\6", 16, b"\xff\xff\xff", id="the list of members is said to begin behind its end"),
        pytest.param(b"PK\1\2", 10, b"\x0c\x00", id="a member is said to be packed by bzip2"),
        pytest.param(b"PK\1\2", 10, b"\x0e\x00", id="a member is said to be packed by LZMA"),
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


def test_a_missing_backup_is_said_plainly(shop: Path, tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="there is no such backup"):
        restore(tmp_path / "none.zip", shop, NOW)


def test_a_backup_can_be_made_while_the_clock_is_wrong(shop: Path, tmp_path: Path) -> None:
    backup(shop, tmp_path / "shop.zip", datetime(1970, 1, 1, tzinfo=UTC))
    assert restore(tmp_path / "shop.zip", tmp_path / "new", NOW).manifest.made == "1970-01-01T00:00:00Z"


def test_the_backup_of_the_day_is_made_once(shop: Path) -> None:
    first = daily(shop, NOW)
    assert first == shop / "backups" / "benchlore-2026-11-24.zip"
    content = first.read_bytes()
    assert daily(shop, NOW + timedelta(hours=3)) is None
    assert first.read_bytes() == content
    assert daily(shop, NOW + timedelta(days=1)) == shop / "backups" / "benchlore-2026-11-25.zip"


def test_the_backup_of_a_day_long_past_is_not_rotated_out_at_once(shop: Path) -> None:
    for day in range(9):
        daily(shop, NOW + timedelta(days=day))
    made = daily(shop, datetime(1970, 1, 1, tzinfo=UTC))
    assert made is not None
    assert made.exists()


def test_old_backups_thin_out_to_one_a_week(tmp_path: Path) -> None:
    """2026-11-24 is a Tuesday of ISO week 48 (ISO 8601 calendar)."""
    for day in range(100):
        (tmp_path / f"benchlore-{NOW - timedelta(days=day):%Y-%m-%d}.zip").touch()
    (tmp_path / "benchlore-before-the-move.zip").touch()
    (tmp_path / "benchlore-2026-02-31.zip").touch()

    removed = rotate(tmp_path)

    kept = sorted(path.name for path in tmp_path.iterdir())
    days = [f"benchlore-2026-11-{day}.zip" for day in (18, 19, 20, 21, 22, 23, 24)]
    weeks = [
        f"benchlore-2026-{day}.zip" for day in ("10-04", "10-11", "10-18", "10-25", "11-01", "11-08", "11-15", "11-17")
    ]
    others = ["benchlore-2026-02-31.zip", "benchlore-before-the-move.zip"]
    assert kept == sorted(days + weeks + others)
    assert len(removed) == 100 - 15
    assert rotate(tmp_path) == ()


def test_a_failed_daily_backup_removes_no_older_one(shop: Path) -> None:
    (shop / "backups").mkdir()
    for day in range(1, 31):
        (shop / "backups" / f"benchlore-2026-10-{day:02}.zip").touch()
    edit_a_record(shop / "history.db")
    with pytest.raises(BackupTrouble):
        daily(shop, NOW)
    assert len(list((shop / "backups").iterdir())) == 30


FOREIGN = (
    "CREATE TRIGGER a BEFORE INSERT ON records WHEN NEW.kind = 'close' BEGIN SELECT RAISE(IGNORE); END",
    "CREATE VIEW closed AS SELECT * FROM records",
    "CREATE TABLE more (x)",
)


@pytest.mark.parametrize("statement", FOREIGN)
def test_a_history_with_something_foreign_in_it_is_named_and_not_restored(
    shop: Path, tmp_path: Path, statement: str
) -> None:
    """A trigger of others could keep records out that were acknowledged."""
    with sqlite3.connect(shop / "history.db") as file:
        file.execute(statement)
    file.close()

    name = statement.split()[2]
    assert any(f"do not belong there: {name}" in problem for problem in verify(shop / "history.db").problems())
    with pytest.raises(BackupTrouble, match=f"do not belong there: {name}"):
        restore(shop / "history.db", tmp_path / "new", NOW)


def test_tables_that_sqlite_and_a_streaming_program_keep_are_no_harm(shop: Path) -> None:
    with sqlite3.connect(shop / "history.db") as file:
        file.execute("CREATE TABLE _litestream_seq (id INTEGER PRIMARY KEY, seq INTEGER)")
        file.execute("ANALYZE")
    file.close()

    assert verify(shop / "history.db").problems() == ()


def test_a_record_that_the_file_does_not_take_is_never_acknowledged(shop: Path) -> None:
    with sqlite3.connect(shop / "history.db") as file:
        file.execute(FOREIGN[0])
    file.close()
    count = verify(shop / "history.db").records

    with History.open(shop / "history.db") as history, pytest.raises(HistoryLost, match="takes no records"):
        history.close_job(Confirmation("no-light/dc-jack", model="Tern 13"))

    assert verify(shop / "history.db").records == count


def test_the_folder_that_a_backup_is_looked_at_in_is_never_named(shop: Path, tmp_path: Path) -> None:
    backup(shop, tmp_path / "b.zip", NOW)
    told = {"history.db": bytes(4096)}
    _rewritten(tmp_path / "b.zip", tmp_path / "bad.zip", told)

    with pytest.raises(BackupTrouble) as trouble:
        restore(tmp_path / "bad.zip", tmp_path / "new", NOW)

    assert ".benchlore-restore" not in str(trouble.value)
    assert str(trouble.value).startswith(f"{tmp_path / 'bad.zip'}:")


@pytest.mark.parametrize(("room", "why"), [(1 << 40, "no database"), (100, "has room for")])
def test_a_small_zip_that_unpacks_to_much_is_refused_before_it_is_unpacked(
    shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, room: int, why: str
) -> None:
    backup(shop, tmp_path / "b.zip", NOW)
    _rewritten(tmp_path / "b.zip", tmp_path / "bad.zip", {"history.db": bytes(64 << 20)})
    monkeypatch.setattr(archive, "disk_usage", lambda _: SimpleNamespace(free=room))
    with pytest.raises(BackupTrouble, match=why):
        restore(tmp_path / "bad.zip", tmp_path / "new", NOW)


def _rewritten(source: Path, target: Path, members: Mapping[str, bytes]) -> None:
    """A backup with other members, sealed as its own."""
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        manifest = json.loads(old.read("manifest.json"))
        for name in old.namelist():
            if name != "manifest.json":
                content = members.get(name, old.read(name))
                manifest["files"][name] = hashlib.sha256(content).hexdigest()
                new.writestr(name, content)
        new.writestr("manifest.json", json.dumps(manifest))
