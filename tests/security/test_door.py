"""Who may: passphrases, sessions, back-off on wrong tries, signing in and out."""

from __future__ import annotations

import sqlite3
import stat
import subprocess
import sys
import threading
import zipfile
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import Result
from flask import Flask
from helpers.places import ROOT
from helpers.shops import quick_folder
from werkzeug.test import TestResponse

from kb.base.trouble import Refusal
from kb.bench.front import Bench
from kb.history.copies import backup as keeping
from security.walking import HOME, post, token, visitor
from webui.app import create_app
from webui.guard import door as doors
from webui.guard import passphrase as phrases
from webui.guard import tries
from webui.guard.door import Door, DoorTrouble, Right, TooSoon, WrongPassphrase

Monkey = pytest.MonkeyPatch
GOOD, READING = "four plain words here", "only looking at it"


class Watch:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)

    def __call__(self) -> datetime:
        return self.now

    def pass_by(self, **given: float) -> None:
        self.now += timedelta(**given)


@pytest.fixture
def watch() -> Watch:
    return Watch()


@pytest.fixture
def door(tmp_path: Path, watch: Watch, monkeypatch: pytest.MonkeyPatch) -> Door:
    """A door with a cheap hash, as what is tested is not its cost."""
    monkeypatch.setattr(phrases.hashed, "__defaults__", ((16, 1, 1),))
    made = Door(tmp_path / "shop", watch)
    made.set_passphrase(Right.WRITE, GOOD)
    return made


def wrong(door: Door, times: int, address: str = "192.0.2.7") -> None:
    for _ in range(times):
        with pytest.raises(WrongPassphrase):
            door.enter("wrong wrong wrong", address)


def test_scrypt_gives_the_published_value() -> None:
    # RFC 7914, section 12: scrypt ("pleaseletmein", "SodiumChloride", N=16384, r=8, p=1), first 32 of 64 bytes
    found = phrases._scrypt("pleaseletmein", "SodiumChloride", (16384, 8, 1))

    assert found == "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2"


def test_a_check_costs_what_is_said() -> None:
    assert phrases.hashed(GOOD).startswith("scrypt:32768:8:3$")


@pytest.mark.parametrize("given", ["", "short", "         ", "x" * 201])
def test_a_passphrase_too_short_or_too_long_is_refused(door: Door, given: str) -> None:
    with pytest.raises(Refusal, match="10 to 200"):
        door.set_passphrase(Right.WRITE, given)


def test_the_same_letters_from_another_keyboard_fit(door: Door) -> None:
    door.set_passphrase(Right.WRITE, "cafe\u0301 am Hafen")

    assert door.enter("caf\u00e9 am Hafen", "192.0.2.7")[1] is Right.WRITE


def test_reading_and_writing_need_different_passphrases(door: Door) -> None:
    with pytest.raises(Refusal, match="different"):
        door.set_passphrase(Right.READ, GOOD)


def test_the_file_is_for_its_owner_alone_and_holds_neither_passphrase_nor_token(door: Door) -> None:
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

    rights = [door.right_of(door.enter(given, "192.0.2.7")[0]) for given in (GOOD, READING)]

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


def test_after_five_wrong_tries_an_address_waits_and_even_the_right_one_is_not_looked_at(door: Door) -> None:
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


def test_a_right_one_clears_the_count_and_a_day_does_too(door: Door, watch: Watch) -> None:
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


@pytest.mark.parametrize("damage", [b"", b"not a database, but long enough to look at" * 30])
def test_a_damaged_file_lets_nobody_in(door: Door, damage: bytes) -> None:
    opened, _ = door.enter(GOOD, "192.0.2.7")
    door.path.write_bytes(damage)

    for ask in (lambda: door.right_of(opened), door.is_set):
        try:
            assert not ask()
        except DoorTrouble as error:
            told = str(error)
            assert "benchlore passphrase" in told


def test_the_file_travels_in_no_backup(bench: Bench, door: Door, tmp_path: Path) -> None:
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


def test_a_browser_that_signed_in_before_gets_in_whatever_strangers_do(door: Door, watch: Watch) -> None:
    browser = door.remember_browser()
    locked_out(door, watch)

    assert door.enter(GOOD, "192.0.2.3", browser)[1] is Right.WRITE


def test_a_known_browser_has_no_more_tries_than_an_address(door: Door, watch: Watch) -> None:
    browser = door.remember_browser()
    for _ in range(6):
        with pytest.raises(WrongPassphrase):
            door.enter("wrong wrong wrong", "192.0.2.7", browser)

    with pytest.raises(TooSoon):
        door.enter(GOOD, "192.0.2.8", browser)


def test_a_browser_is_known_for_a_year_and_a_made_up_one_never(door: Door, watch: Watch) -> None:
    browser = door.remember_browser()

    assert [door.knows(given) for given in (browser, "", "x", "\ud800")] == [True, False, False, False]
    watch.pass_by(days=366)
    assert not door.knows(browser)


def test_who_has_to_wait_takes_no_place_among_those_that_are_checked(door: Door, monkeypatch: Monkey) -> None:
    wrong(door, 6)
    taken = [door._checks.acquire(blocking=False) for _ in range(doors.CHECKS_AT_ONCE)]
    assert all(taken)

    with pytest.raises(TooSoon) as told:
        door.enter("wrong wrong wrong", "192.0.2.7")
    assert told.value.seconds == 1  # the address's own wait, looked at before the places
    monkeypatch.setattr(doors, "ONE_ADDRESS", doors.Backoff(free=0, longest=900.0, memory=doors.DAY))
    with pytest.raises(TooSoon) as told:
        door.enter("wrong wrong wrong", "192.0.2.7")
    assert told.value.seconds == 32


def test_signing_in_makes_the_browser_known_and_ends_the_session_before(guarded: Flask, door: Door) -> None:
    client = visitor(guarded)
    fields = {"token": token(client, "/enter"), "passphrase": GOOD}
    post(client, "/enter", fields)
    first, browser = client.get_cookie("benchlore-session"), client.get_cookie("benchlore-known")
    assert first
    assert browser
    assert door.knows(browser.value)

    post(client, "/enter", {**fields, "token": token(client, "/enter")})

    assert door.right_of(first.value) is None
    again = client.get_cookie("benchlore-known")
    assert again
    assert again.value == browser.value


def test_refused_tries_are_one_line_an_address_and_nothing_that_was_typed(
    guarded: Flask, caplog: pytest.LogCaptureFixture
) -> None:
    tries.tell()
    caplog.clear()
    for number in range(30):
        for _ in range(1 + number % 3):
            knock(guarded, "wrong wrong wrong", address=f"192.0.2.{number}")

    tries.tell()

    lines = [record.getMessage() for record in caplog.records if record.name == "webui.guard.tries"]
    assert "3 tries to sign in from 192.0.2.2 were refused within a minute" in lines
    assert lines[-1] == "10 more from 10 other addresses"
    assert len(lines) == tries.MOST_NAMED + 1
    assert not any("wrong wrong" in line for line in lines)
    tries.tell()
    assert len([record for record in caplog.records if record.name == "webui.guard.tries"]) == len(lines)


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


def test_several_processes_at_one_door_keep_each_other_s_locks(monkeypatch: Monkey) -> None:
    """A file closed beside an open database drops its locks, which comes out as "disk I/O error"."""
    monkeypatch.setattr(phrases.hashed, "__defaults__", ((16, 1, 1),))
    with quick_folder() as folder:
        Door(folder).set_passphrase(Right.WRITE, GOOD)
        program = [sys.executable, "-c", AT_ONCE, str(folder)]
        working = [subprocess.Popen(program, cwd=ROOT, stdout=subprocess.PIPE, text=True) for _ in range(3)]

        assert [one.communicate(timeout=200)[0].strip() for one in working] == ["[]"] * 3


def test_a_file_with_half_its_tables_is_completed(door: Door) -> None:
    door.path.unlink()
    with sqlite3.connect(door.path) as file:
        file.execute("CREATE TABLE passphrase (may TEXT PRIMARY KEY, hash TEXT NOT NULL)")
    file.close()

    door.set_passphrase(Right.WRITE, GOOD)

    assert door.enter(GOOD, "192.0.2.7")


# The command


def test_the_command_asks_twice_and_shows_nothing(run: Callable[..., Result], tmp_path: Path) -> None:
    told = run("passphrase", given=f"{GOOD}\n{GOOD}\n")

    assert GOOD not in told.stdout
    assert "0 sessions ended" in told.stdout
    assert Door(tmp_path / "shop").is_set()
    assert run("passphrase", given=f"{GOOD}\nother words here\n", status=1)


def test_the_command_sets_reading_only_beside_writing(run: Callable[..., Result], tmp_path: Path) -> None:
    assert "for writing first" in run("passphrase", "--reading", given="a\na\n", status=2).stderr
    run("passphrase", given=f"{GOOD}\n{GOOD}\n")
    run("passphrase", "--reading", given=f"{READING}\n{READING}\n")
    assert Door(tmp_path / "shop").is_set(Right.READ)

    run("passphrase", "--reading", "--remove")

    assert not Door(tmp_path / "shop").is_set(Right.READ)


def test_the_command_ends_sessions(run: Callable[..., Result], tmp_path: Path) -> None:
    run("passphrase", given=f"{GOOD}\n{GOOD}\n")
    Door(tmp_path / "shop").enter(GOOD, "192.0.2.7")

    assert "1 session ended" in run("passphrase", "--end-sessions").stdout
    assert "alone" in run("passphrase", "--end-sessions", "--reading", status=2).stderr


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "bench.example"])
def test_the_server_does_not_start_on_a_network_without_a_passphrase(run: Callable[..., Result], host: str) -> None:
    told = run("serve", "--host", host, "--port", "0", status=1)

    assert "benchlore passphrase" in told.stderr


def test_half_a_pair_of_certificate_and_key_is_refused(run: Callable[..., Result], tmp_path: Path) -> None:
    (tmp_path / "c.pem").write_text("x")

    assert "together" in run("serve", "--certificate", str(tmp_path / "c.pem"), status=2).stderr
    both = ("--certificate", str(tmp_path / "c.pem"), "--key", str(tmp_path / "c.pem"))
    assert "no certificate with its key" in run("serve", *both, status=1).stderr


# The pages


@pytest.fixture
def guarded(bench: Bench, door: Door) -> Flask:
    return create_app(bench, door=door)


def knock(app: Flask, passphrase: str, to: str = "/", address: str = "192.0.2.7") -> TestResponse:
    client = visitor(app)
    client.environ_base["REMOTE_ADDR"] = address
    return post(client, "/enter", {"token": token(client, "/enter"), "passphrase": passphrase, "to": to})


def test_signing_in_leads_where_one_wanted_and_nowhere_else(guarded: Flask) -> None:
    for to, leads in (("/job/1?q=x", "/job/1?q=x"), ("//evil.example", "/"), ("/\\evil.example", "/"), ("x", "/")):
        assert knock(guarded, GOOD, to).headers["Location"] == leads


def test_a_wrong_passphrase_is_told_and_never_shown(guarded: Flask) -> None:
    answer = knock(guarded, "wrong wrong wrong")

    assert answer.status_code == 401
    assert "not the passphrase" in answer.text
    assert "wrong wrong wrong" not in answer.text


def test_too_many_wrong_ones_are_told_how_long_to_wait(guarded: Flask) -> None:
    told = [knock(guarded, "wrong wrong wrong") for _ in range(7)]

    assert [answer.status_code for answer in told] == [401] * 6 + [429]
    assert told[-1].headers["Retry-After"] == "1"


def test_only_a_visitor_over_the_network_is_warned_that_others_could_read_along(bench: Bench, door: Door) -> None:
    client = create_app(bench, door=door, trusted_hosts=("localhost", "bench.example")).test_client()

    told = {
        base: "not encrypted" in client.get("/enter", base_url=base).text
        for base in ("http://localhost", "http://bench.example", "https://bench.example")
    }

    assert told == {"http://localhost": False, "http://bench.example": True, "https://bench.example": False}


def test_a_stale_form_never_offers_a_passphrase_again(guarded: Flask) -> None:
    answer = post(visitor(guarded), "/enter", {"token": "x.y", "passphrase": GOOD})

    assert answer.status_code == 403
    assert GOOD not in answer.text


def test_signing_out_ends_the_session_for_good(guarded: Flask) -> None:
    client = visitor(guarded)
    post(client, "/enter", {"token": token(client, "/enter"), "passphrase": GOOD})
    cookie = client.get_cookie("benchlore-session")
    assert cookie
    assert client.get("/library", base_url=HOME).status_code == 200

    assert post(client, "/leave", {"token": token(client, "/")}).headers["Location"] == "/enter"

    client.set_cookie("benchlore-session", cookie.value)
    assert client.get("/library", base_url=HOME).status_code == 303


def test_the_session_cookie_is_out_of_reach_and_over_tls_bound_to_this_host(guarded: Flask) -> None:
    plain = next(one for one in knock(guarded, GOOD).headers.getlist("Set-Cookie") if "session" in one)
    assert all(flag in plain for flag in ("HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=2592000"))
    assert "Secure" not in plain

    client, home = guarded.test_client(), "https://localhost"
    page = client.get("/enter", base_url=home).text
    given = {"passphrase": GOOD, "token": page.partition('name="token" value="')[2].partition('"')[0]}
    answer = client.post("/enter", base_url=home, data=given, headers={"Origin": home})
    coded = next(one for one in answer.headers.getlist("Set-Cookie") if "session" in one)
    assert coded.startswith("__Host-")
    assert "Secure" in coded


def test_a_door_that_is_damaged_lets_nobody_in_and_says_what_to_do(guarded: Flask, door: Door) -> None:
    door.path.write_bytes(b"not a database, but long enough to look at" * 30)
    client = visitor(guarded)
    client.set_cookie("benchlore-session", "x")

    answer = client.get("/library", base_url=HOME)

    assert answer.status_code == 503
    assert "benchlore passphrase" in answer.text


def test_a_hand_made_row_without_a_passphrase_opens_nothing(door: Door) -> None:
    with sqlite3.connect(door.path) as file:
        file.execute("INSERT INTO passphrase VALUES ('read', '')")
        file.execute("UPDATE passphrase SET hash = 'scrypt:x$y' WHERE may = 'write'")

    wrong(door, 1)
