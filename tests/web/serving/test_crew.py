"""A crew: processes that answer at one address, end together, are started anew, and tell the same troubles."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Collection
from contextlib import suppress
from pathlib import Path

import pytest
from click.testing import Result
from helpers.places import ROOT
from hypothesis import given
from hypothesis import strategies as st
from reliability.running import CAUSE, OFTEN, Browser, Server, wait_for

from kb.history import History
from kb.model import Confirmation
from webui.serving.crew import Report


def left_of(processes: Collection[int]) -> set[int]:
    return {
        process
        for process in processes
        if Path(f"/proc/{process}/cmdline").exists() and not _is_ended(process)
    }


def _is_ended(process: int) -> bool:
    with suppress(OSError):
        return (
            Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
            == "Z"
        )
    return True


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A shop with one job, so that there is something to back up."""
    shop = tmp_path / "shop"
    with History.open(shop / "history.db") as history:
        history.close_job(Confirmation(CAUSE, "Tern 13"))
    return shop


def test_one_that_is_killed_is_started_anew_while_the_others_answer(shop: Path) -> None:
    with Server(shop, "--processes", "2") as server:
        wait_for(lambda: len(server.members()) == 2)
        first = set(server.members())
        killed = min(first)
        os.kill(killed, signal.SIGKILL)
        for _ in range(10):
            assert Browser(server.port).get("/").status == 200
        wait_for(lambda: len(server.members()) == 2)
        assert len(first.intersection(server.members())) == 1
        both = server.members()
        assert Browser(server.port).get("/").status == 200
    wait_for(lambda: not left_of(both))
    assert (
        "process 1 of the server ended (signal 9); it is started anew"
        in server.log.read_text()
    )


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_all_end_with_the_one_that_started_them_however_that_one_ends(
    shop: Path, how: signal.Signals
) -> None:
    with Server(shop, "--processes", "2") as server:
        wait_for(lambda: len(server.members()) == 2)
        both = server.members()
        assert Browser(server.port).get("/").status == 200
        server.process.send_signal(how)
        assert server.process.wait(30) == -how
        wait_for(lambda: not left_of(both))
        with pytest.raises(OSError, match="refused"):
            Browser(server.port).get("/")


def test_what_the_first_one_fails_at_stands_on_the_pages_of_all(
    shop: Path, tmp_path: Path
) -> None:
    there = tmp_path / "stick"
    there.mkdir()
    with Server(
        shop, "--processes", "2", "--copy-to", str(there), setting=OFTEN
    ) as server:
        wait_for((there / "benchlore-following.zip").exists)
        there.rename(tmp_path / "unplugged")
        with History.open(shop / "history.db") as history:
            history.close_job(Confirmation(CAUSE, "Skua 14"))
        wait_for(lambda: "stick" in server.log.read_text())
        first, second = server.members()
        for silent in (first, second):
            os.kill(silent, signal.SIGSTOP)
            assert "stick" in Browser(server.port).get("/").shown
            os.kill(silent, signal.SIGCONT)


def test_processes_that_end_as_soon_as_they_start_are_given_up(tmp_path: Path) -> None:
    program = "from webui.serving import crew; crew.PAUSE = 0; crew.keep(2, lambda number: 1 / 0, print)"
    told = subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert "ZeroDivisionError" in told.stderr
    assert (
        "Refusal: the processes that should answer end as soon as they start"
        in told.stderr
    )
    assert told.stdout.count("started anew") == 5
    assert told.returncode == 1


def test_a_port_that_is_taken_is_told_before_anybody_is_started(
    run: Callable[..., Result], shop: Path
) -> None:
    with Server(shop) as server:
        told = run("serve", "--port", str(server.port), "--processes", "2", status=1)
    assert "give another --port" in told.stderr


@given(st.lists(st.text(max_size=5000) | st.just("\udcff"), max_size=4))
def test_a_report_gives_what_was_written_last_as_far_as_there_is_room(
    sentences: list[str],
) -> None:
    report = Report()
    assert report.trouble == ""
    for sentence in sentences:
        report.write(sentence)
        plain = sentence.encode(errors="replace").partition(b"\0")[0].decode()
        assert plain.startswith(report.trouble)
        assert len(report.trouble.encode()) >= min(len(plain.encode()), 4090)
