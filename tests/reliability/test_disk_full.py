"""A disk without room: said plainly, nothing acknowledged lost, reading goes on, working again without a restart."""

from __future__ import annotations

import os
import re
import resource
import shutil
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from helpers.places import CORPUS

from kb.base.clock import utc_now
from kb.history import History
from kb.history.copies.mirror import Mirror
from kb.history.copies.rounds import FOLLOWING
from kb.history.verification import verify
from kb.model import Confirmation
from reliability.running import (
    CAUSE,
    OFTEN,
    WORDS,
    Browser,
    Server,
    command,
    new_shop,
    no_trace,
    units,
    wait_for,
)

SHEET = (CORPUS / "no-battery.md").read_text("utf-8")
PAGES = (
    "/",
    f"/?q={WORDS.replace(' ', '+')}",
    "/library",
    "/entry/no-battery",
    "/review",
)


def filled(browser: Browser, shop: Path) -> list[str]:
    """Save until the disk takes no more; gives the tags that were acknowledged."""
    acknowledged = []
    for number in range(400):
        unit, token = f"T-{number}", browser.token()
        said = browser.confirm(unit, token, note=f"{number} " + "x" * 6000)
        if said.status == 303:
            acknowledged.append(unit)
            continue
        assert said.status == 503, said.shown
        assert "full" in said.shown
        assert "nothing was saved" in said.shown.replace(
            "nothing saved", "nothing was saved"
        )
        assert "x" * 6000 in said.text, "what was typed is kept"
        assert no_trace(said.text)
        return acknowledged
    raise AssertionError("the disk never filled up")


def read_all(browser: Browser) -> None:
    for address in PAGES:
        said = browser.get(address)
        assert said.status == 200, (address, said.shown)


def entry_refused(browser: Browser, shop: Path) -> None:
    token = re.search(r'name="token" value="([^"]+)"', browser.get("/new?q=hum").text)
    assert token
    text = SHEET + "\n## Remarks\n\n" + "- salt in the sockets\n" * 2000
    said = browser.post(
        "/new", {"token": token[1], "slug": "salt-in-sockets", "text": text}
    )
    assert said.status == 503, (said.status, said.shown[:500])
    assert no_trace(said.text)
    left = (
        [path.name for path in (shop / "entries").glob("*")]
        if (shop / "entries").exists()
        else []
    )
    assert [name for name in left if name.endswith((".md", ".new"))] == [], (
        "no half entry"
    )


def test_a_limit_on_file_sizes_is_told_as_a_full_disk(shop: Path) -> None:
    with Server(shop) as server:
        browser = Browser(server.port)
        assert browser.confirm("T-first").status == 303
        read_all(browser)
        limit = (shop / "history.db").stat().st_size + 60_000
        resource.prlimit(
            server.process.pid, resource.RLIMIT_FSIZE, (limit, resource.RLIM_INFINITY)
        )
        acknowledged = ["T-first", *filled(browser, shop)]
        assert len(acknowledged) > 3
        read_all(browser)
        assert units(shop) == acknowledged
        resource.prlimit(
            server.process.pid, resource.RLIMIT_FSIZE, (20_000, resource.RLIM_INFINITY)
        )
        entry_refused(browser, shop)
        unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
        resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, unlimited)
        assert browser.confirm("T-last").status == 303
        read_all(browser)
    assert units(shop) == [*acknowledged, "T-last"]
    assert verify(shop / "history.db").problems() == ()


def test_where_no_room_is_left_for_a_backup_its_own_file_is_named(
    shop: Path, quick: Path
) -> None:
    """Not the history, on whose disk there may be room enough."""
    full, safe = quick / "full" / "friday.zip", quick / "other-disk"
    for folder in (full.parent, safe):
        folder.mkdir()
    with Server(shop, "--copy-to", str(safe), setting=OFTEN) as server:
        assert Browser(server.port).confirm("T-1").status == 303
        wait_for((safe / FOLLOWING).exists)
        resource.prlimit(
            server.process.pid, resource.RLIMIT_FSIZE, (20_000, resource.RLIM_INFINITY)
        )
        saved = command("confirm", CAUSE, "--model", "Tern 13", shop=shop)
        assert saved.returncode == 0, saved.stderr
        wait_for(lambda: "full" in server.log.read_text())
        said = server.log.read_text()
    assert said.startswith(f"no backup was made: {safe / FOLLOWING}: "), said
    assert str(shop) not in said
    refused = command(
        "backup",
        str(full),
        shop=shop,
        before=("sh", "-c", 'ulimit -f 40; exec "$@"', "sh"),
    )
    assert refused.returncode == 1
    assert re.fullmatch(
        rf"Error: {full}: the disk .* full .*make room and try again\n", refused.stderr
    )
    assert list(full.parent.iterdir()) == []


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 24 MB, held in memory; only root can make one."""
    place = tmp_path / "disk"
    place.mkdir()
    made = (
        os.geteuid() == 0
        and subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=24m", "tmpfs", str(place)],
            capture_output=True,
            check=False,
        ).returncode
        == 0
    )
    if not made:
        pytest.skip(
            "only root can mount a small disk here; the limit on file sizes is tested without"
        )
    yield place
    subprocess.run(["umount", "-l", str(place)], check=False)


@pytest.mark.parametrize("live", [False, True])
def test_a_mirror_on_a_write_protected_disk_is_restored_with_its_log(
    small_disk: Path, quick: Path, live: bool
) -> None:
    shop, mirror = quick / "shop", quick / "mirror.db"
    following = Mirror(shop / "history.db", mirror, utc_now, print)
    with History.open(shop / "history.db") as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13", unit="T-0"))
        following.look()
        with closing(sqlite3.connect(mirror)) as streaming:
            streaming.execute("SELECT count(*) FROM records").fetchone()
            if not live:
                streaming.close()
            history.close_job(Confirmation(CAUSE, model="Tern 13", unit="T-1"))
            following.look()
            for part in quick.glob("mirror.db*"):
                if not part.name.endswith("-shm"):
                    shutil.copy(part, small_disk)
    assert (small_disk / "mirror.db-wal").exists() is live
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    (quick / "link.db").symlink_to(small_disk / "mirror.db")

    for number, file in enumerate((small_disk / "mirror.db", quick / "link.db")):
        restored = command("restore", str(file), shop=quick / f"new-{number}")
        assert restored.returncode == 0, restored.stderr
        assert units(quick / f"new-{number}") == ["T-0", "T-1"]


def test_a_copy_for_which_there_is_no_room_says_nothing_against_the_file(
    shop: Path, quick: Path
) -> None:
    with History.open(shop / "history.db") as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13", note="x" * 9000))

    refused = command(
        "restore",
        str(shop / "history.db"),
        shop=quick / "new",
        before=("sh", "-c", 'ulimit -f 20; exec "$@"', "sh"),
    )

    assert refused.returncode == 1
    assert refused.stderr.startswith(
        f"Error: {quick / 'new' / 'history.db'}: the disk "
    ), refused.stderr
    assert list((quick / "new").iterdir()) == []


def test_a_full_disk_is_told_and_works_again_once_there_is_room(
    stock_shop: Path, small_disk: Path
) -> None:
    shop = new_shop(stock_shop, small_disk / "shop")
    with Server(shop) as server:
        browser = Browser(server.port)
        assert browser.confirm("T-first").status == 303
        read_all(browser)
        room = os.statvfs(small_disk).f_bavail * os.statvfs(small_disk).f_frsize
        (small_disk / "filler").write_bytes(bytes(max(room - 200_000, 0)))
        acknowledged = ["T-first", *filled(browser, shop)]
        read_all(browser)
        assert units(shop) == acknowledged
        entry_refused(browser, shop)
        (small_disk / "filler").unlink()
        assert browser.confirm("T-last").status == 303
        read_all(browser)
        assert units(shop) == [*acknowledged, "T-last"]
    assert verify(shop / "history.db").problems() == ()
