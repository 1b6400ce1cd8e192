"""The mirror: a second file that a running server appends to, never in place of what may be the last witness."""

from __future__ import annotations

import random
import re
import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import Result
from helpers.backed_up import add_records
from reliability.running import wait_for
from sqlite_utils import Database, Migrations

from kb.base.trouble import Refusal
from kb.history import schema
from kb.history.copies.backup import restore
from kb.history.copies.mirror import Mirror
from kb.history.trouble import BackupTrouble, DiskTrouble, HistoryLost, HistoryTrouble
from kb.history.verification import examine, verify

NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)
WRITE_AHEAD, ROLLBACK = b"\x02\x02", b"\x01\x01"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop of ten closed jobs and ten records of machines."""
    return with_jobs(tmp_path / "shop", 20)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Where the mirror stands."""
    return tmp_path / "mirrors" / "mirror.db"


def with_jobs(shop: Path, count: int) -> Path:
    """The shop with that many records more, every other of a machine."""
    add_records(shop, count)
    return shop


def mirror_of(
    shop: Path, file: Path, say: Callable[[str], None] = print, every: float = 0.05
) -> Mirror:
    return Mirror(shop / "history.db", file, lambda: NOW, say, every)


def rows(file: Path) -> list[object]:
    """All that a history holds, as any reader gets it."""
    with closing(sqlite3.connect(f"{file.as_uri()}?mode=ro", uri=True)) as reader:
        return [
            reader.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall()
            for table in ("records", "about")
        ]


def journal(file: Path) -> bytes:
    """How the file says that it is written (https://www.sqlite.org/fileformat.html, 1.3.3)."""
    return file.read_bytes()[18:20]


def test_a_missing_mirror_is_made_with_all_records_tables_and_triggers(
    shop: Path, file: Path
) -> None:
    mirror_of(shop, file).look()

    assert rows(file) == rows(shop / "history.db")
    assert (journal(file), journal(shop / "history.db")) == (WRITE_AHEAD, ROLLBACK)
    found = examine(file, read_only=True)
    assert (found.problems(), found.records, found.journal_mode) == ((), 20, "wal")
    assert [
        path.name for path in file.parent.iterdir() if path.name.startswith(".")
    ] == []


def test_what_is_saved_later_is_appended_by_the_same_mirror_and_by_a_new_one(
    shop: Path, file: Path
) -> None:
    mirror = mirror_of(shop, file)
    mirror.look()
    for again in (mirror, mirror, mirror_of(shop, file)):
        with_jobs(shop, 3)

        again.look()

        assert rows(file) == rows(shop / "history.db")
    assert verify(shop / "history.db").records == 29


def test_a_mirror_made_of_an_empty_history_follows_it(
    tmp_path: Path, file: Path
) -> None:
    shop = with_jobs(tmp_path / "shop", 0)
    mirror = mirror_of(shop, file)
    mirror.look()
    with_jobs(shop, 2)

    mirror.look()

    assert rows(file) == rows(shop / "history.db")


def test_a_shop_without_a_history_has_no_mirror(tmp_path: Path, file: Path) -> None:
    mirror_of(tmp_path / "shop", file).look()

    assert not file.parent.exists()


def test_nothing_saved_means_nothing_written(shop: Path, file: Path) -> None:
    mirror = mirror_of(shop, file)
    mirror.look()
    before = file.stat()

    for _ in range(3):
        mirror.look()

    assert file.stat().st_mtime_ns == before.st_mtime_ns
    assert sorted(path.name for path in file.parent.iterdir()) == ["mirror.db"]


def damaged(shop: Path, file: Path) -> None:
    raw = bytearray(file.read_bytes())
    place = raw.index(b"SN-123456")
    raw[place : place + 9] = b"SN-123457"
    file.write_bytes(raw)


def cut(shop: Path, file: Path) -> None:
    file.write_bytes(file.read_bytes()[:9000])


def no_database(shop: Path, file: Path) -> None:
    file.write_bytes(b"customers, by name\n" * 400)


def another_database(shop: Path, file: Path) -> None:
    file.unlink()
    with closing(sqlite3.connect(file)) as other:
        other.execute("CREATE TABLE orders (x)")


def of_another_shop(shop: Path, file: Path) -> None:
    other = with_jobs(shop.parent / "other", 3)
    file.unlink()
    mirror_of(other, file).look()


def longer(shop: Path, file: Path) -> None:
    """The shop went back to an older copy, so that the mirror alone has the last records."""
    with_jobs(shop, 5)
    mirror_of(shop, file).look()
    shutil.copy(shop.parent / "old.db", shop / "history.db")


def diverged(shop: Path, file: Path) -> None:
    longer(shop, file)
    with_jobs(shop, 8)


def emptied(shop: Path, file: Path) -> None:
    file.write_bytes(b"")


@pytest.mark.parametrize(
    ("harm", "why"),
    [
        (damaged, "record 4 is not as it was written"),
        (cut, "damaged"),
        (no_database, "damaged"),
        (another_database, "not of this history"),
        (emptied, "not of this history"),
        (of_another_shop, "not of this history"),
        (longer, "records that this history does not have"),
        (diverged, "records that this history does not have"),
    ],
)
def test_a_file_that_is_no_mirror_of_this_history_is_told_and_left_as_it_is(
    shop: Path, file: Path, harm: Callable[[Path, Path], None], why: str
) -> None:
    shutil.copy(shop / "history.db", shop.parent / "old.db")
    running = mirror_of(shop, file)
    running.look()
    harm(shop, file)
    if harm is not diverged:
        with_jobs(shop, 1)
    before = file.read_bytes(), (shop / "history.db").read_bytes()

    # A changed record in the middle is seen by the next start, which reads the whole mirror.
    for mirror in (mirror_of(shop, file), *([running] if harm is not damaged else ())):
        with pytest.raises(
            Refusal, match=f"{why}.* left as it is; move it away"
        ) as told:
            mirror.look()

        assert str(told.value).count("\n") == 0
        assert (file.read_bytes(), (shop / "history.db").read_bytes()) == before


def test_once_it_is_moved_away_a_new_mirror_is_made(shop: Path, file: Path) -> None:
    mirror = mirror_of(shop, file)
    mirror.look()
    no_database(shop, file)
    with_jobs(shop, 1)
    with pytest.raises(Refusal):
        mirror.look()

    file.rename(file.with_name("kept.db"))
    mirror.look()

    assert rows(file) == rows(shop / "history.db")


def test_a_write_ahead_log_without_its_mirror_is_not_put_under_a_new_one(
    shop: Path, file: Path
) -> None:
    file.parent.mkdir()
    file.with_name("mirror.db-wal").write_bytes(b"x" * 4096)

    with pytest.raises(
        Refusal, match=r"mirror\.db-wal stands there without its mirror; move it away"
    ):
        mirror_of(shop, file).look()

    assert not file.exists()


def test_neither_a_damaged_history_nor_a_lost_one_reaches_the_mirror(
    shop: Path, file: Path
) -> None:
    mirror_of(shop, file).look()
    with_jobs(shop, 5)
    raw = bytearray((shop / "history.db").read_bytes())
    place = raw.rindex(b'"unit":"T-2"')
    raw[place : place + 12] = b'"unit":"T-9"'
    (shop / "history.db").write_bytes(raw)
    before = rows(file)

    with pytest.raises(
        HistoryTrouble, match=r"record 2\d of the history is not as it was written"
    ):
        mirror_of(shop, file).look()
    with pytest.raises(BackupTrouble, match="failed its check"):
        mirror_of(shop, file.with_name("new.db")).look()
    (shop / "history.db").unlink()
    with pytest.raises(HistoryLost):
        mirror_of(shop, file).look()

    assert rows(file) == before
    assert [path.name for path in file.parent.iterdir() if "new" in path.name] == []


@pytest.mark.parametrize("harm", ["lost", "put back as it was before"])
def test_when_the_mirror_knows_more_the_way_back_to_it_is_said_and_leads_there(
    shop: Path, file: Path, run: Callable[..., Result], harm: str
) -> None:
    shutil.copy(shop / "history.db", shop.parent / "old.db")
    with_jobs(shop, 3)
    mirror_of(shop, file).look()
    before = rows(file)
    (shop / "history.db").unlink()
    if harm != "lost":
        shutil.copy(shop.parent / "old.db", shop / "history.db")
    said: list[str] = []

    mirror_of(shop, file, said.append).look_and_tell()

    words = re.findall(
        r"benchlore (restore \S*mirror.db --shop [^ )]+(?: --replace)?)", said[0]
    )
    run(*words[-1].split())
    assert rows(shop / "history.db") == before
    mirror_of(shop, file).look()
    assert rows(file) == before


def test_a_mirror_that_somebody_holds_is_caught_up_with_later_and_saving_goes_on(
    shop: Path, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(schema.connect, "__defaults__", ("rw", 0.1, "DELETE"))
    mirror = mirror_of(shop, file)
    mirror.look()
    with closing(sqlite3.connect(file, isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        with_jobs(shop, 2)
        with pytest.raises(DiskTrouble, match="locked; saving goes on"):
            mirror.look()

    mirror.look()

    assert rows(file) == rows(shop / "history.db")


def test_a_mirror_that_cannot_be_written_is_told_as_such(
    shop: Path, tmp_path: Path
) -> None:
    (tmp_path / "no-folder").write_bytes(b"")
    place = tmp_path / "no-folder" / "mirror.db"

    with pytest.raises(
        DiskTrouble, match=f"{place}: .*; saving goes on, and this is tried again"
    ):
        mirror_of(shop, place).look()


@pytest.mark.parametrize(
    "name",
    ["shop/history.db", "shop/mirror.db", "mirrors/history.db", "mirrors/HISTORY.DB"],
)
def test_a_place_where_it_could_be_taken_for_the_history_is_refused(
    shop: Path, tmp_path: Path, name: str
) -> None:
    with pytest.raises(Refusal, match="could be taken for the history"):
        mirror_of(shop, tmp_path / name)


@pytest.mark.parametrize("link", [Path.symlink_to, Path.hardlink_to])
def test_another_name_of_the_history_is_refused_too(
    shop: Path, tmp_path: Path, link: Callable[[Path, Path], None]
) -> None:
    link(tmp_path / "mirror.db", shop / "history.db")

    with pytest.raises(Refusal, match="could be taken for the history"):
        mirror_of(shop, tmp_path / "mirror.db")


def test_serving_with_such_a_place_ends_with_one_sentence(
    shop: Path, run: Callable[..., Result]
) -> None:
    refused = run(
        "serve",
        "--port",
        "0",
        "--shop",
        str(shop),
        "--mirror",
        str(shop / "history.db"),
        status=1,
    )

    assert refused.stderr.startswith("Error: ")
    assert refused.stderr.count("\n") == 1


def test_a_trouble_is_said_once_and_the_thread_goes_on(shop: Path, file: Path) -> None:
    file.parent.mkdir()
    no_database(shop, file)
    said: list[str] = []
    mirror = mirror_of(shop, file, said.append)
    mirror._rest = 0.02
    mirror.start()
    wait_for(lambda: bool(said))
    time.sleep(0.2)  # a few looks more
    assert len(said) == 1
    assert said[0].startswith("the mirror does not follow: ")

    file.unlink()
    wait_for(file.exists)
    with_jobs(shop, 1)
    mirror.stop()

    assert rows(file) == rows(shop / "history.db")
    assert len(said) == 1


def test_a_mirror_of_an_older_schema_is_brought_up_to_date(
    shop: Path, file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mirror_of(shop, file).look()
    known = schema.migrations

    def later() -> Migrations:
        steps = known()

        @steps(name="shelves")
        def shelves(db: Database) -> None:
            db.table("shelf").create(
                {"number": int, "name": str}, pk="number", strict=True
            )
            db.table("about").insert({"key": "schema", "value": "2"})

        return steps

    monkeypatch.setattr(schema, "migrations", later)
    monkeypatch.setattr(schema, "SCHEMA", 2)
    with_jobs(shop, 1)
    mirror_of(shop, file).look()

    assert rows(file) == rows(shop / "history.db")
    assert examine(file, read_only=True).problems() == ()


@pytest.mark.parametrize("live", [False, True])
def test_a_mirror_is_restored_as_a_backup_is(
    shop: Path, file: Path, tmp_path: Path, live: bool
) -> None:
    """Also while somebody holds it open with records in the write-ahead log, and with a streaming program's tables."""
    mirror = mirror_of(shop, file)
    mirror.look()
    before = rows(shop / "history.db")
    with closing(sqlite3.connect(file, isolation_level=None)) as streaming:
        streaming.execute(
            "CREATE TABLE _litestream_seq (id INTEGER PRIMARY KEY, seq INTEGER)"
        )
        if not live:
            streaming.close()
        with_jobs(shop, 4)
        mirror.look()
        before = rows(shop / "history.db")

        report = restore(file, tmp_path / "new", NOW)

    history = tmp_path / "new" / "history.db"
    assert (report.manifest.records, report.whole, report.kept) == (24, False, None)
    assert (rows(history), journal(history)) == (before, ROLLBACK)
    assert verify(history).problems() == ()
    with closing(sqlite3.connect(history)) as opened:
        assert not opened.execute(
            "SELECT 1 FROM sqlite_master WHERE name LIKE '%litestream%'"
        ).fetchall()
    with_jobs(tmp_path / "new", 1)
    mirror_of(tmp_path / "new", file).look()
    assert rows(file) == rows(history)


def test_a_history_whose_program_died_while_saving_is_restored_as_it_was_before(
    shop: Path, tmp_path: Path
) -> None:
    before = rows(shop / "history.db")
    with closing(sqlite3.connect(shop / "history.db", isolation_level=None)) as dying:
        dying.execute("PRAGMA cache_size = 1")
        dying.execute("BEGIN IMMEDIATE")
        dying.execute(
            "CREATE TABLE half AS SELECT a.body FROM records AS a, records AS b, records AS c"
        )
        shutil.copytree(shop, tmp_path / "dead")
    assert (tmp_path / "dead" / "history.db-journal").stat().st_size
    found = (tmp_path / "dead" / "history.db").read_bytes()
    assert found != (shop / "history.db").read_bytes()

    report = restore(tmp_path / "dead" / "history.db", tmp_path / "new", NOW)

    assert report.manifest.records == 20
    assert rows(tmp_path / "new" / "history.db") == before
    assert (tmp_path / "dead" / "history.db").read_bytes() == found


def test_a_file_that_cannot_be_read_is_named_and_not_the_history(
    tmp_path: Path,
) -> None:
    """The memory of this process stands for it: a file that even root cannot read from its beginning."""
    with pytest.raises(DiskTrouble, match=r"^/proc/self/mem: "):
        restore(Path("/proc/self/mem"), tmp_path / "new", NOW)


def test_after_restoring_a_history_alone_it_is_said_what_is_not_in_it(
    shop: Path, file: Path, tmp_path: Path, run: Callable[..., Result]
) -> None:
    mirror_of(shop, file).look()

    said = run("restore", str(file), "--shop", str(tmp_path / "new"))

    assert said.stdout.splitlines()[1:] == [
        "own entries and words are not in it; to have them too, restore a backup, then this file with --replace"
    ]
    refused = run("restore", str(file), "--shop", str(shop), status=1)
    assert "already holds a sound history" in refused.stderr


def test_as_is_said_then_a_backup_and_the_mirror_bring_back_entries_and_the_latest_jobs(
    shop: Path, file: Path, tmp_path: Path, run: Callable[..., Result]
) -> None:
    (shop / "words.toml").write_text('[same]\ncharger = ["juicer"]\n')
    run("backup", str(tmp_path / "friday.zip"), "--shop", str(shop))
    with_jobs(shop, 3)
    mirror_of(shop, file).look()
    new = tmp_path / "new"
    run("restore", str(file), "--shop", str(new))

    for found in (tmp_path / "friday.zip", file):
        run("restore", str(found), "--shop", str(new), "--replace")

    assert rows(new / "history.db") == rows(shop / "history.db")
    assert (new / "words.toml").read_text() == (shop / "words.toml").read_text()


@pytest.mark.slow
def test_no_flipped_bit_of_a_history_file_is_restored_as_if_it_were_sound(
    shop: Path, file: Path, tmp_path: Path
) -> None:
    mirror_of(shop, file).look()
    sound, before, chance = file.read_bytes(), rows(file), random.Random(20261124)
    refused = 0
    for number in range(200):
        raw, place = bytearray(sound), chance.randrange(len(sound) * 8)
        raw[place // 8] ^= 1 << place % 8
        harmed = tmp_path / f"harmed-{number}.db"
        harmed.write_bytes(raw)
        try:
            restore(harmed, tmp_path / "new", NOW)
        except BackupTrouble:
            refused += 1
            continue
        assert rows(tmp_path / "new" / "history.db") == before
        assert verify(tmp_path / "new" / "history.db").ok
        shutil.rmtree(tmp_path / "new")
    assert refused > 40


@pytest.mark.parametrize("harm", [damaged, cut, no_database, another_database, emptied])
def test_a_file_that_is_no_sound_history_is_not_restored(
    shop: Path, file: Path, tmp_path: Path, harm: Callable[[Path, Path], None]
) -> None:
    mirror_of(shop, file).look()
    harm(shop, file)
    before = file.read_bytes()

    with pytest.raises(BackupTrouble, match="take another one"):
        restore(file, tmp_path / "new", NOW)

    assert list((tmp_path / "new").iterdir()) == []
    assert file.read_bytes() == before
