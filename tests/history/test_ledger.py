"""The history file itself: append-only, durable, and never silently empty."""

from __future__ import annotations

import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers.places import ROOT
from helpers.shops import quick_folder
from sqlite_utils import Database, Migrations

from kb.history import History, kinds, schema
from kb.history.ledger import Ledger
from kb.history.marks import Marker, Tip, read_marker, read_tip
from kb.history.trouble import DiskTrouble, HistoryBusy, HistoryForeign, HistoryLost, HistoryTrouble, NoHistory
from kb.history.verification import verify
from kb.model import Confirmation

#: The columns after seq and id of the first record, with a token to be filled in.
REST = "job, shop, at, kind, body, {}, chain FROM records WHERE seq = 1"


@pytest.fixture
def tmp_path() -> Iterator[Path]:
    with quick_folder() as folder:
        yield folder


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A history of five closed jobs in a shop folder of its own."""
    path = tmp_path / "shop" / "history.db"
    with History.open(path) as history:
        for unit in range(5):
            confirmed = Confirmation("no-light/dc-jack", model="Tern 13", unit=f"T-{unit}")
            history.close_job(confirmed, f"form-{unit}")
    return path


def raw(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(path, isolation_level=None)


def process(script: str, *arguments: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        cwd=ROOT,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.PIPE,
    )


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE records SET body = '{}'",
        "DELETE FROM records",
        "DELETE FROM records WHERE seq = 5",
        f"INSERT OR REPLACE INTO records SELECT 3, 'x', {REST.format('NULL')}",
        f"INSERT OR REPLACE INTO records SELECT 6, id, {REST.format('NULL')}",
        f"INSERT OR REPLACE INTO records SELECT 6, 'x', {REST.format('token')}",
        f"INSERT INTO records SELECT 9, 'x', {REST.format('NULL')}",
        "UPDATE about SET value = 'x'",
        "DELETE FROM about",
        "INSERT INTO about VALUES ('shop', 'x')",
        "INSERT OR REPLACE INTO about SELECT key, value FROM about",
    ],
)
def test_the_file_itself_refuses_to_change_or_lose_a_record(path: Path, statement: str) -> None:
    connection = raw(path)
    before = connection.execute("SELECT * FROM records, about").fetchall()
    with pytest.raises(sqlite3.IntegrityError, match="append-only"):
        connection.execute(statement)
    assert connection.execute("SELECT * FROM records, about").fetchall() == before
    connection.close()


def test_the_tables_take_no_value_of_another_type(path: Path) -> None:
    connection = raw(path)
    with pytest.raises(sqlite3.IntegrityError, match="cannot store"):
        connection.execute("INSERT INTO records VALUES (6, x'00', '', '', '', '', '', NULL, '')")
    connection.close()


def test_the_file_is_written_with_a_rollback_journal_and_full_flushing(path: Path) -> None:
    connection = schema.connect(path)
    told = {
        name: connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
    }
    connection.close()
    assert told == {"journal_mode": "delete", "synchronous": 3, "foreign_keys": 1, "busy_timeout": 5000}


def test_a_file_left_in_another_journal_mode_is_brought_back(path: Path) -> None:
    connection = raw(path)
    assert connection.execute("PRAGMA journal_mode = WAL").fetchone() == ("wal",)
    connection.close()
    assert verify(path).journal_mode == "delete"


def test_a_new_history_is_marked_with_its_shop(path: Path) -> None:
    with History.open(path) as history:
        assert read_marker(path) == Marker(history.shop, history.created)
        assert read_tip(path) == history.tip()
    assert json.loads(path.with_name("history.id").read_text())["shop"] == history.shop


def test_opening_an_existing_history_does_not_load_the_table_maker(path: Path) -> None:
    script = (
        "import sys; from pathlib import Path; from kb.history import History\n"
        "History.open(Path(sys.argv[1])).close(); print('sqlite_utils' in sys.modules)"
    )
    assert process(script, path).communicate()[0].strip() == "False"


def test_without_leave_to_make_one_a_missing_history_is_said_and_not_made(tmp_path: Path) -> None:
    with pytest.raises(NoHistory, match="no history yet"):
        History.open(tmp_path / "history.db", create=False)
    assert list(tmp_path.iterdir()) == []


def test_a_lost_id_file_is_written_again(path: Path) -> None:
    before = path.with_name("history.id").read_bytes()
    path.with_name("history.id").unlink()
    History.open(path).close()
    assert path.with_name("history.id").read_bytes() == before


def vanish(path: Path) -> None:
    path.unlink()


def vanish_with_id(path: Path) -> None:
    path.unlink()
    path.with_name("history.id").unlink()


def empty(path: Path) -> None:
    path.write_bytes(b"")


def empty_without_marks(path: Path) -> None:
    for mark in ("history.id", "history.tip"):
        path.with_name(mark).unlink()
    path.write_bytes(b"")


def folder_in_its_place(path: Path) -> None:
    path.unlink()
    path.mkdir()


def random_bytes(path: Path) -> None:
    path.write_bytes(random.Random(1).randbytes(20_000))


def cut_in_half(path: Path) -> None:
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


@pytest.mark.parametrize(
    "harm", [vanish, vanish_with_id, empty, empty_without_marks, folder_in_its_place, random_bytes, cut_in_half]
)
def test_a_lost_history_is_never_replaced_by_a_new_empty_one(path: Path, harm: Callable[[Path], None]) -> None:
    harm(path)
    before = path.read_bytes() if path.is_file() else path.exists()
    with pytest.raises(HistoryLost, match=f"benchlore restore FILE --shop {path.parent}"):
        verify_or_raise(path)
    assert (path.read_bytes() if path.is_file() else path.exists()) == before


def verify_or_raise(path: Path) -> None:
    """Open and read everything, as a page would."""
    with History.open(path) as history:
        list(history.closed_jobs())


def test_the_restore_command_names_the_newest_daily_backup_and_quotes_the_folder(tmp_path: Path) -> None:
    path = tmp_path / "my shop" / "history.db"
    History.open(path).close()
    (path.parent / "backups").mkdir()
    for day in ("2026-11-23", "2026-11-24"):
        (path.parent / "backups" / f"benchlore-{day}.zip").touch()
    path.unlink()
    with pytest.raises(HistoryLost) as caught:
        History.open(path)
    shop = path.parent
    assert f"benchlore restore '{shop}/backups/benchlore-2026-11-24.zip' --shop '{shop}'" in str(caught.value)


def test_the_history_of_another_shop_is_told_from_ones_own(path: Path, tmp_path: Path) -> None:
    History.open(tmp_path / "other" / "history.db").close()
    shutil.copy(tmp_path / "other" / "history.db", path)
    with pytest.raises(HistoryForeign, match=r"history\.id names shop .*--replace"):
        History.open(path)


def test_another_programs_database_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "history.db"
    connection = raw(path)
    connection.execute("CREATE TABLE visits (url TEXT)")
    connection.close()
    before = path.read_bytes()
    with pytest.raises(HistoryForeign, match="not a history of this program"):
        History.open(path)
    assert path.read_bytes() == before


def test_a_text_file_of_that_name_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "history.db"
    path.write_text("notes on history\n" * 100)
    with pytest.raises(HistoryForeign, match="not a history"):
        History.open(path)
    assert path.read_text().startswith("notes")


def next_schema(fails: bool = False) -> Migrations:
    """The present steps and one that a later program might bring."""
    steps = schema.migrations()

    @steps(name="shelves")
    def shelves(db: Database) -> None:
        db.table("shelf").create({"name": str}, pk="name", strict=True)
        db.table("about").insert({"key": "schema", "value": str(schema.SCHEMA + 1)})
        if fails:
            raise RuntimeError("power cut")

    return steps


def test_before_a_migration_the_file_is_copied_aside(path: Path) -> None:
    with History.open(path) as history:
        records = list(history.records_since())
    connection = schema.connect(path)
    schema.upgrade(connection, next_schema(), path)
    connection.close()

    with History.open(path.with_name("history.before-shelves.db")) as copy:
        assert list(copy.records_since()) == records
    with pytest.raises(HistoryForeign, match=r"newer program wrote .* \(schema 2, known here is 1\)"):
        History.open(path)


def test_a_migration_that_fails_changes_nothing(path: Path) -> None:
    connection = schema.connect(path)
    with pytest.raises(RuntimeError):
        schema.upgrade(connection, next_schema(fails=True), path)
    connection.close()
    assert verify(path).ok


WRITER = """
import random, sys, time
from pathlib import Path
from kb.history import History
from kb.model import Confirmation
from kb.history.trouble import HistoryBusy
chance = random.Random(int(sys.argv[2]))
for number in range(100):
    token = f"writer-{sys.argv[2]}-{number}"
    while True:
        try:
            with History.open(Path(sys.argv[1])) as history:
                record = history.close_job(Confirmation("a/b", model="Tern 13", unit=token), token)
            break
        except HistoryBusy:
            continue
    print(record.seq, token, flush=True)
    time.sleep(chance.uniform(0.005, 0.02))
"""


def test_eight_writers_at_once_lose_nothing(path: Path) -> None:
    writers = [process(WRITER, path, number) for number in range(8)]
    said = [writer.communicate() for writer in writers]

    assert [errors for _, errors in said if errors] == []
    acknowledged = {line for output, _ in said for line in output.splitlines()}
    with History.open(path) as history:
        kept = {f"{record.seq} {record.token}" for record in history.records_since(5)}
    assert len(acknowledged) == 800
    assert kept == acknowledged
    assert verify(path).problems() == ()


def test_two_processes_starting_a_shop_at_once_make_one_history(tmp_path: Path) -> None:
    script = (
        "import sys; from pathlib import Path; from kb.history import History; from kb.history import schema\n"
        "import sqlite_utils; print('ready', flush=True); input()\n"
        "with History.open(Path(sys.argv[1])) as history:\n"
        "    print(history.shop, history.open_job('Tern 13'))"
    )
    starters = [process(script, tmp_path / "shop" / "history.db") for _ in range(3)]
    for starter in starters:
        assert starter.stdout is not None
        starter.stdout.readline()
    said = [starter.communicate("\n") for starter in starters]
    assert len({output.split()[0] for output, _ in said}) == 1
    with History.open(tmp_path / "shop" / "history.db") as history:
        assert {job.job for job in history.open_jobs()} == {output.split()[1] for output, _ in said}
    names = sorted(found.name for found in (tmp_path / "shop").iterdir())
    assert names == ["history.db", "history.id", "history.tip"]


KILLED = """
import sys
from pathlib import Path
from kb.history import History, kinds
with History.open(Path(sys.argv[1])) as history:
    while True:
        print(history.note(kinds.NO_FIT, "", {"words": "x"}).seq, flush=True)
"""


def test_what_was_acknowledged_survives_a_killed_process(path: Path) -> None:
    for kill in range(6):
        writer = process(KILLED, path)
        assert writer.stdout is not None
        lines = [writer.stdout.readline() for _ in range(3 + kill)]
        writer.kill()
        lines += writer.stdout.readlines()
        writer.communicate()
        last = int(lines[-1])
        with History.open(path) as history:
            assert last <= history.tip().count <= last + 1
        assert verify(path).ok


HOLDER = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("BEGIN IMMEDIATE")
print("held", flush=True)
input()
"""


@pytest.fixture
def held(path: Path) -> Iterator[subprocess.Popen[str]]:
    """Another process that holds the write lock until it is let go."""
    holder = process(HOLDER, path)
    assert holder.stdout is not None
    assert holder.stdout.readline() == "held\n"
    yield holder
    holder.kill()
    holder.communicate()


def test_a_lock_held_too_long_is_said_within_six_seconds_and_nothing_is_saved(
    path: Path, held: subprocess.Popen[str]
) -> None:
    with History.open(path) as history:
        began = time.monotonic()
        with pytest.raises(HistoryBusy, match="history busy, nothing saved; try again"):
            history.open_job("Tern 13", token="form-9")
        assert 4 < time.monotonic() - began < 20  # a busy machine is no failure
        assert len(list(history.closed_jobs())) == 5

        held.communicate("\n")
        history.open_job("Tern 13", token="form-9")
        assert history.tip().count == 6


def test_a_reader_that_never_ends_delays_a_commit_but_not_for_ever(path: Path) -> None:
    reader = raw(path)
    reader.execute("BEGIN")
    reader.execute("SELECT count(*) FROM records").fetchone()
    with History.open(path, patience=1) as history:
        began = time.monotonic()
        with pytest.raises(HistoryBusy, match="nothing saved"):
            history.open_job("Tern 13")
        assert time.monotonic() - began < 2
        reader.close()
        assert history.tip().count == 5
        history.open_job("Tern 13")
        assert history.tip().count == 6


FILLED = """
import resource, signal, sys
from pathlib import Path
from kb.history import History, kinds
from kb.history.trouble import DiskTrouble
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
path = Path(sys.argv[1])
limit = path.stat().st_size + 30_000
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY))
with History.open(path) as history:
    kept = 0
    try:
        for number in range(100):
            history.note(kinds.NO_FIT, "", {"words": "x" * 500})
            kept += 1
    except DiskTrouble as trouble:
        print(trouble)
    print(kept, history.tip().count, len(list(history.records_since())))
    resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
    history.note(kinds.NO_FIT, "", {"words": "room again"})
    print(history.tip().count)
"""


def test_a_full_disk_loses_nothing_and_the_same_history_works_once_there_is_room(path: Path) -> None:
    output, errors = process(FILLED, path).communicate()
    assert errors == ""
    trouble, counts, after = output.splitlines()
    kept, count, read = map(int, counts.split())
    assert "full" in trouble
    assert "nothing saved" in trouble
    assert kept > 0
    assert count == read == 5 + kept
    assert int(after) == count + 1
    assert verify(path).ok


def test_a_history_removed_while_open_takes_no_more_records(path: Path) -> None:
    with History.open(path) as history:
        shutil.copy(path, path.with_name("other.db"))
        os.replace(path.with_name("other.db"), path)
        with pytest.raises(DiskTrouble, match="moved or replaced meanwhile"):
            history.open_job("Tern 13")
    assert verify(path).records == 5


def as_nobody(read: Callable[[], str]) -> str:
    """What `read` gives in a process that may not write; root could write anywhere."""
    into, out = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.getuid() == 0:
                os.setuid(65534)
            os.write(out, read().encode())
        finally:
            os._exit(0)
    os.close(out)
    with open(into) as told:
        text = told.read()
    os.waitpid(child, 0)
    return text


def test_a_write_protected_history_can_be_read_but_not_written(path: Path) -> None:
    with tempfile.TemporaryDirectory(dir="/tmp") as folder:
        copy = Path(folder, "history.db")
        shutil.copy(path, copy)
        os.chmod(copy, 0o444)
        os.chmod(folder, 0o555)

        def read() -> str:
            with History.open(copy) as history:
                units = ",".join(job.unit for job in history.closed_jobs())
                try:
                    history.open_job("Tern 13")
                except DiskTrouble as trouble:
                    return f"{units} {trouble}"
                return "written"

        said = as_nobody(read)
        os.chmod(folder, 0o755)
    assert said.startswith("T-0,T-1,T-2,T-3,T-4 ")
    assert "write-protected, nothing saved" in said


def rows(path: Path) -> list[tuple[object, ...]] | str:
    """Every record and fact as the file gives them, or what it says instead."""
    try:
        connection = raw(path)
        connection.text_factory = bytes
        try:
            return [
                *connection.execute("SELECT * FROM records ORDER BY seq"),
                *connection.execute("SELECT * FROM about ORDER BY key, value"),
            ]
        finally:
            connection.close()
    except sqlite3.Error as error:
        return str(error)


def test_every_flipped_bit_that_alters_a_record_is_found(path: Path) -> None:
    """A flip that changes or hides a row is found by SQLite's check or by the chain, none by neither."""
    with History.open(path) as history, history.together():
        for number in range(60):
            history.note(kinds.NO_FIT, "", {"words": f"{number} no light when plugged in " * 14})
    sound, before = path.read_bytes(), rows(path)
    chance = random.Random(20261124)
    altered = missed = 0
    for _ in range(400):
        place = chance.randrange(len(sound) * 8)
        harmed = bytearray(sound)
        harmed[place // 8] ^= 1 << place % 8
        path.write_bytes(harmed)
        if rows(path) != before:
            altered += 1
            missed += sound_to_the_check(path)
    assert altered > 120
    assert missed == 0


def sound_to_the_check(path: Path) -> bool:
    try:
        return verify(path).ok
    except HistoryTrouble:
        return False


def test_a_record_edited_behind_the_triggers_is_named(path: Path) -> None:
    connection = raw(path)
    for trigger in ("records_no_update", "records_no_delete"):
        connection.execute(f"DROP TRIGGER {trigger}")
    connection.execute("UPDATE records SET body = replace(body, 'T-2', 'T-9') WHERE seq = 3")
    connection.close()

    found = verify(path)

    assert found.first_bad_seq == 3
    assert "records_no_delete, records_no_update" in found.structure
    assert "record 3 is not as it was written or is missing" in found.problems()
    assert not found.ok


def test_a_record_removed_from_the_middle_is_named(path: Path) -> None:
    connection = raw(path)
    text = connection.execute("SELECT sql FROM sqlite_master WHERE name = 'records_no_delete'").fetchone()[0]
    connection.execute("DROP TRIGGER records_no_delete")
    connection.execute("DELETE FROM records WHERE seq = 2")
    connection.execute(text)
    connection.close()
    found = verify(path)
    assert (found.first_bad_seq, found.structure, found.ok) == (2, "", False)


def test_a_cut_off_tail_is_noticed_by_the_tip(path: Path) -> None:
    earlier = path.read_bytes()
    with History.open(path) as history:
        history.open_job("Tern 13")
    path.write_bytes(earlier)
    found = verify(path)
    assert (found.tip, found.chain_ok, found.structure, found.ok) == ("ahead", True, "", False)
    assert found.problems() == ("records at the end are missing",)


def test_a_tip_that_lags_behind_is_no_trouble(path: Path) -> None:
    earlier = path.with_name("history.tip").read_bytes()
    with History.open(path) as history:
        history.open_job("Tern 13")
    path.with_name("history.tip").write_bytes(earlier)
    assert verify(path).ok
    path.with_name("history.tip").unlink()
    assert (verify(path).tip, verify(path).ok) == ("missing", True)


def test_a_sound_history_says_how_it_is_kept(path: Path) -> None:
    found = verify(path, lambda: datetime(1970, 1, 1, tzinfo=UTC))
    assert (found.sqlite_version, found.journal_mode) == (sqlite3.sqlite_version, "delete")
    assert (found.records, found.tip, found.ok) == (5, "in step", True)
    assert "cannot be" in found.clock_warning


def test_a_damaged_record_is_said_and_not_a_traceback(path: Path) -> None:
    connection = raw(path)
    connection.execute(
        "INSERT INTO records SELECT 6, 'x', job, shop, at, kind, 'no json', NULL, chain FROM records WHERE seq = 5"
    )
    connection.close()
    with History.open(path) as history, pytest.raises(HistoryLost, match="record 6 is damaged"):
        list(history.closed_jobs())


def test_a_connection_copies_as_of_one_moment(path: Path, tmp_path: Path) -> None:
    with Ledger.open(path) as ledger:
        ledger.copy_to(tmp_path / "copy.db")
        tip = ledger.tip()
    with Ledger.open(tmp_path / "copy.db") as copy:
        assert copy.tip() == tip
        assert tip == Tip(5, tip.chain)
