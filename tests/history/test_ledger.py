"""The history file itself: append-only, durable, and never silently empty."""

from __future__ import annotations

import json
import os
import random
import shutil
import sqlite3
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.backed_up import FOREIGN
from helpers.ledgers import process, raw

from kb.history import History, schema
from kb.history.ledger import Ledger
from kb.history.marks import Marker, Tip, read_marker, read_tip
from kb.history.trouble import (
    DiskTrouble,
    HistoryBusy,
    HistoryForeign,
    HistoryLost,
    NoHistory,
)
from kb.history.verification import verify
from kb.model import Confirmation


def test_the_file_is_written_with_a_rollback_journal_and_full_flushing(
    path: Path,
) -> None:
    connection = schema.connect(path)
    told = {
        name: connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
    }
    connection.close()
    assert told == {
        "journal_mode": "delete",
        "synchronous": 3,
        "foreign_keys": 1,
        "busy_timeout": 5000,
    }


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


def test_without_leave_to_make_one_a_missing_history_is_said_and_not_made(
    tmp_path: Path,
) -> None:
    with pytest.raises(NoHistory, match="no history yet"):
        History.open(tmp_path / "history.db", create=False)
    assert list(tmp_path.iterdir()) == []


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
    "harm",
    [
        vanish,
        vanish_with_id,
        empty,
        empty_without_marks,
        folder_in_its_place,
        random_bytes,
        cut_in_half,
    ],
)
def test_a_lost_history_is_never_replaced_by_a_new_empty_one(
    path: Path, harm: Callable[[Path], None]
) -> None:
    harm(path)
    before = path.read_bytes() if path.is_file() else path.exists()
    with pytest.raises(
        HistoryLost, match=f"benchlore restore FILE --shop {path.parent}"
    ):
        verify_or_raise(path)
    assert (path.read_bytes() if path.is_file() else path.exists()) == before


def verify_or_raise(path: Path) -> None:
    """Open and read everything, as a page would."""
    with History.open(path) as history:
        list(history.closed_jobs())


def test_the_history_of_another_shop_is_told_from_ones_own(
    path: Path, tmp_path: Path
) -> None:
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


@pytest.mark.slow
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


@pytest.mark.slow
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
        assert {job.job for job in history.open_jobs()} == {
            output.split()[1] for output, _ in said
        }
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


@pytest.mark.slow
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


@pytest.mark.slow
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


def test_a_full_disk_loses_nothing_and_the_same_history_works_once_there_is_room(
    path: Path,
) -> None:
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


def test_a_connection_copies_as_of_one_moment(path: Path, tmp_path: Path) -> None:
    with Ledger.open(path) as ledger:
        ledger.copy_to(tmp_path / "copy.db")
        tip = ledger.tip()
    with Ledger.open(tmp_path / "copy.db") as copy:
        assert copy.tip() == tip
        assert tip == Tip(5, tip.chain)


def test_a_record_that_the_file_does_not_take_is_never_acknowledged(path: Path) -> None:
    with sqlite3.connect(path) as file:
        file.execute(FOREIGN[0])
    file.close()
    count = verify(path).records

    with (
        History.open(path) as history,
        pytest.raises(HistoryLost, match="takes no records"),
    ):
        history.close_job(Confirmation("no-light/dc-jack", model="Tern 13"))

    assert verify(path).records == count
