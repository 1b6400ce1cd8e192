"""Who may: passphrases, sessions, back-off on wrong tries, signing in and out."""

from __future__ import annotations

import sqlite3
import stat
import subprocess
import sys
import threading
import zipfile
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers.doors import GOOD, READING, Monkey, Watch, wrong
from helpers.places import ROOT
from helpers.shops import quick_folder

from kb.base.trouble import Refusal
from kb.bench.front import Bench
from kb.history.copies import backup as keeping
from webui.guard import door as doors
from webui.guard import passphrase as phrases
from webui.guard.door import Door, DoorTrouble, Right, TooSoon, WrongPassphrase


def test_reading_and_writing_need_different_passphrases(door: Door) -> None:
    with pytest.raises(Refusal, match="different"):
        door.set_passphrase(Right.READ, GOOD)


def test_the_file_is_for_its_owner_alone_and_holds_neither_passphrase_nor_token(
    door: Door,
) -> None:
    opened, _ = door.enter(GOOD, "192.0.2.7")

    assert stat.S_IMODE(door.path.stat().st_mode) == 0o600
    raw = door.path.read_bytes()
    assert GOOD.encode() not in raw
    assert opened.encode() not in raw


def test_a_file_that_others_may_read_is_closed_to_them_again(door: Door) -> None:
    door.path.chmod(0o644)

    assert door.is_set()
    assert stat.S_IMODE(door.path.stat().st_mode) == 0o600


def test_each_passphrase_opens_what_it_is_for(door: Door) -> None:
    door.set_passphrase(Right.READ, READING)

    rights = [
        door.right_of(door.enter(given, "192.0.2.7")[0]) for given in (GOOD, READING)
    ]

    assert rights == [Right.WRITE, Right.READ]


def test_a_session_ends_by_leaving_and_by_time(door: Door, watch: Watch) -> None:
    left, stays = door.enter(GOOD, "192.0.2.7")[0], door.enter(GOOD, "192.0.2.7")[0]

    door.leave(left)
    assert (door.right_of(left), door.right_of(stays)) == (None, Right.WRITE)
    watch.pass_by(days=31)
    assert door.right_of(stays) is None


@pytest.mark.parametrize("token", ["", "x", "\ud800", "é", "a" * 10_000, "' OR 1=1 --"])
def test_a_made_up_session_opens_nothing(door: Door, token: str) -> None:
    assert door.right_of(token) is None


def test_changing_a_passphrase_ends_every_session(door: Door) -> None:
    opened, _ = door.enter(GOOD, "192.0.2.7")

    assert door.set_passphrase(Right.WRITE, "other plain words") == 1
    assert door.right_of(opened) is None
    wrong(door, 1)


def test_every_session_can_be_ended_at_once(door: Door) -> None:
    opened = [door.enter(GOOD, "192.0.2.7")[0] for _ in range(3)]

    assert door.end_sessions() == 3
    assert [door.right_of(one) for one in opened] == [None, None, None]


def test_after_five_wrong_tries_an_address_waits_and_even_the_right_one_is_not_looked_at(
    door: Door,
) -> None:
    wrong(door, 6)

    with pytest.raises(TooSoon):
        door.enter(GOOD, "192.0.2.7")
    assert door.enter(GOOD, "192.0.2.8")


def test_the_wait_doubles_and_outlives_a_restart(door: Door, watch: Watch) -> None:
    waits = []
    for _ in range(12):
        try:
            Door(door.path.parent, watch).enter("wrong wrong wrong", "192.0.2.7")
        except TooSoon as error:
            waits.append(error.seconds)
            watch.pass_by(seconds=error.seconds)
        except WrongPassphrase:
            pass

    assert waits == [1, 2, 4]


def test_a_right_one_clears_the_count_and_a_day_does_too(
    door: Door, watch: Watch
) -> None:
    wrong(door, 4)
    door.enter(GOOD, "192.0.2.7")
    wrong(door, 6)
    watch.pass_by(days=1)

    wrong(door, 6)


def test_many_addresses_are_no_way_round(door: Door, watch: Watch) -> None:
    tried = 0
    for number in range(200):
        try:
            door.enter("wrong wrong wrong", f"192.0.2.{number}")
        except WrongPassphrase:
            tried += 1
        except TooSoon:
            pass

    assert tried == doors.EVERYBODY.free + 1


def test_one_network_of_version_6_counts_as_one_address(door: Door) -> None:
    for number in range(6):
        wrong(door, 1, f"2001:db8::{number}")

    with pytest.raises(TooSoon):
        door.enter(GOOD, "2001:db8::77")


def test_a_clock_set_back_locks_nobody_out(door: Door, watch: Watch) -> None:
    wrong(door, 6)
    watch.now = datetime(1970, 1, 2, tzinfo=UTC)

    assert door.enter(GOOD, "192.0.2.7")


def test_tries_sent_at_once_are_counted_and_few_are_checked_together(
    door: Door, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_once, most, lock, go = 0, 0, threading.Lock(), threading.Event()

    def slow(*_: object) -> bool:
        nonlocal at_once, most
        with lock:
            at_once += 1
            most = max(most, at_once)
        go.wait(0.05)
        with lock:
            at_once -= 1
        return False

    monkeypatch.setattr(phrases, "fits", slow)
    told: list[type[Exception]] = []

    def knock() -> None:
        for _ in range(5):
            try:
                door.enter("wrong wrong wrong", "192.0.2.7")
            except (WrongPassphrase, TooSoon) as error:
                told.append(type(error))

    threads = [threading.Thread(target=knock) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert len(told) == 60
    assert most <= doors.CHECKS_AT_ONCE
    assert told.count(WrongPassphrase) <= doors.ONE_ADDRESS.free + 1


def test_damage_that_the_database_cannot_even_quote_is_told(door: Door) -> None:
    opened, _ = door.enter(GOOD, "192.0.2.7")
    raw = door.path.read_bytes()
    begin, told = raw.index(b"CREATE TABLE"), 0
    for place in range(begin, begin + 40, 3):
        harmed = bytearray(raw)
        harmed[place] |= 0x80
        door.path.write_bytes(harmed)

        try:
            door.right_of(opened)
        except DoorTrouble as error:
            told += "benchlore passphrase" in str(error)

    assert told > 5


@pytest.mark.parametrize(
    "damage", [b"", b"not a database, but long enough to look at" * 30]
)
def test_a_damaged_file_lets_nobody_in(door: Door, damage: bytes) -> None:
    opened, _ = door.enter(GOOD, "192.0.2.7")
    door.path.write_bytes(damage)

    for ask in (lambda: door.right_of(opened), door.is_set):
        try:
            assert not ask()
        except DoorTrouble as error:
            told = str(error)
            assert "benchlore passphrase" in told


def test_the_file_travels_in_no_backup(
    bench: Bench, door: Door, tmp_path: Path
) -> None:
    kept = Door(bench.folder)
    kept.set_passphrase(Right.WRITE, GOOD)
    bench.asking.models()

    keeping.backup(bench.folder, tmp_path / "b.zip", datetime.now(UTC))

    names = zipfile.ZipFile(tmp_path / "b.zip").namelist()
    assert "history.db" in names
    assert not [name for name in names if "door" in name or "secret" in name]


# Strangers who keep trying


def locked_out(door: Door, watch: Watch) -> None:
    """Twenty addresses try until nobody is looked at any more."""
    for number in range(200):
        with suppress(WrongPassphrase, TooSoon):
            door.enter("wrong wrong wrong", f"192.0.2.{number % 20}")
    with pytest.raises(TooSoon):
        door.enter(GOOD, "192.0.2.77")


def test_a_browser_that_signed_in_before_gets_in_whatever_strangers_do(
    door: Door, watch: Watch
) -> None:
    browser = door.remember_browser()
    locked_out(door, watch)

    assert door.enter(GOOD, "192.0.2.3", browser)[1] is Right.WRITE


def test_a_known_browser_has_no_more_tries_than_an_address(
    door: Door, watch: Watch
) -> None:
    browser = door.remember_browser()
    for _ in range(6):
        with pytest.raises(WrongPassphrase):
            door.enter("wrong wrong wrong", "192.0.2.7", browser)

    with pytest.raises(TooSoon):
        door.enter(GOOD, "192.0.2.8", browser)


def test_a_browser_is_known_for_a_year_and_a_made_up_one_never(
    door: Door, watch: Watch
) -> None:
    browser = door.remember_browser()

    assert [door.knows(given) for given in (browser, "", "x", "\ud800")] == [
        True,
        False,
        False,
        False,
    ]
    watch.pass_by(days=366)
    assert not door.knows(browser)


def test_who_has_to_wait_takes_no_place_among_those_that_are_checked(
    door: Door, monkeypatch: Monkey
) -> None:
    wrong(door, 6)
    taken = [door._checks.acquire(blocking=False) for _ in range(doors.CHECKS_AT_ONCE)]
    assert all(taken)

    with pytest.raises(TooSoon) as told:
        door.enter("wrong wrong wrong", "192.0.2.7")
    # the address's own wait, looked at before the places
    assert told.value.seconds == 1
    monkeypatch.setattr(
        doors, "ONE_ADDRESS", doors.Backoff(free=0, longest=900.0, memory=doors.DAY)
    )
    with pytest.raises(TooSoon) as told:
        door.enter("wrong wrong wrong", "192.0.2.7")
    assert told.value.seconds == 32


AT_ONCE = """
import sys
from pathlib import Path
from threading import Thread
from webui.guard.door import Door, Right, WrongPassphrase, TooSoon
from webui.guard import passphrase
passphrase.hashed.__defaults__ = ((16, 1, 1),)
door, wrong = Door(Path(sys.argv[1])), []
def work(number):
    for turn in range(40):
        try:
            token, _ = door.enter("four plain words here", f"192.0.2.{number}")
            assert door.right_of(token) is Right.WRITE
            door.leave(token)
        except TooSoon:
            pass
        except Exception as error:
            wrong.append(repr(error))
threads = [Thread(target=work, args=(number,)) for number in range(3)]
[thread.start() for thread in threads]
[thread.join() for thread in threads]
print(wrong[:3])
"""


def test_several_processes_at_one_door_keep_each_other_s_locks(
    monkeypatch: Monkey,
) -> None:
    """A file closed beside an open database drops its locks, which comes out as "disk I/O error"."""
    monkeypatch.setattr(phrases.hashed, "__defaults__", ((16, 1, 1),))
    with quick_folder() as folder:
        Door(folder).set_passphrase(Right.WRITE, GOOD)
        program = [sys.executable, "-c", AT_ONCE, str(folder)]
        working = [
            subprocess.Popen(program, cwd=ROOT, stdout=subprocess.PIPE, text=True)
            for _ in range(3)
        ]

        assert [one.communicate(timeout=200)[0].strip() for one in working] == [
            "[]"
        ] * 3


def test_a_file_with_half_its_tables_is_completed(door: Door) -> None:
    door.path.unlink()
    with sqlite3.connect(door.path) as file:
        file.execute(
            "CREATE TABLE passphrase (may TEXT PRIMARY KEY, hash TEXT NOT NULL)"
        )
    file.close()

    door.set_passphrase(Right.WRITE, GOOD)

    assert door.enter(GOOD, "192.0.2.7")


def test_a_hand_made_row_without_a_passphrase_opens_nothing(door: Door) -> None:
    with sqlite3.connect(door.path) as file:
        file.execute("INSERT INTO passphrase VALUES ('read', '')")
        file.execute("UPDATE passphrase SET hash = 'scrypt:x$y' WHERE may = 'write'")

    wrong(door, 1)
