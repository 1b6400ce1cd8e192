"""The server and the command line killed while people save: nothing acknowledged is lost, nothing doubled."""

from __future__ import annotations

import http.client
import itertools
import json
import os
import random
import signal
import statistics
import subprocess
import sys
import threading
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from helpers.long import LONG
from helpers.places import ROOT

from kb.history import History, kinds
from kb.history.verification import verify
from reliability.running import (
    SHIPPED,
    Browser,
    Said,
    Server,
    new_shop,
    records,
    units,
    wait_for,
)

SERVER_KILLS = 300 if LONG else 10
COMMAND_KILLS = 100 if LONG else 12
MEMBER_KILLS = 60 if LONG else 3
CLIENTS = 3
#: The machine whose lines are shown.
FIRST = "M-first"

#: A save without an answer: the cookies of its browser, its mark, the form's token.
Unanswered = tuple[dict[str, str], str, str]


def save(browser: Browser, mark: str, token: str) -> Said:
    """Save what a mark says: a confirmed cause (T-1), a machine that comes in (M-2), or what a line showed (F-3)."""
    if mark.startswith("T"):
        return browser.confirm(mark, token)
    if mark.startswith("M"):
        return browser.post(
            "/arrival", {"token": token, "lot": "P7", "tag": mark, "model": "Tern 13"}
        )
    shown = {"token": token, "line": "camera", "shown": "good", "value": mark}
    return browser.post(f"/u/{FIRST}/checkout", shown)


def marks(shop: Path) -> list[str]:
    """The marks of all that was saved, in order; the first machine is none of it."""
    found = []
    for kind, key in (("close", "unit"), ("unit-in", "tag"), ("function", "value")):
        found += [str(json.loads(record.body)[key]) for record in records(shop, kind)]
    return [mark for mark in found if mark != FIRST]


class Client(threading.Thread):
    """Saves one thing after another until the server is gone; remembers the one that got no answer."""

    def __init__(
        self, server: Server, numbers: itertools.count[int], left: Unanswered | None
    ) -> None:
        super().__init__(daemon=True)
        self.server = server
        self.numbers = numbers
        self.left = left
        self.acknowledged: list[str] = []
        self.unanswered: Unanswered | None = None

    def run(self) -> None:
        browser = Browser(self.server.port, shipped=True)
        try:
            if self.left is not None:
                cookies, mark, token = self.left
                browser.cookies = dict(cookies)
                self._save(browser, mark, token)
            while True:
                number = next(self.numbers)
                self._save(browser, f"{'TMF'[number % 3]}-{number}", browser.token())
        except (OSError, http.client.HTTPException):
            return

    def _save(self, browser: Browser, mark: str, token: str) -> None:
        self.unanswered = (browser.cookies, mark, token)
        said = save(browser, mark, token)
        assert said.status == 303, said.shown
        self.unanswered = None
        self.acknowledged.append(mark)


def killed_again_and_again(
    shop: Path, kills: int, seed: int
) -> tuple[list[str], int, list[float]]:
    """The marks acknowledged, the saves without an answer that were sent again, and what each first page took.

    That is in seconds of the server's processor time: how long it takes on a busy machine says nothing of a start.
    """
    chance, numbers = random.Random(seed), itertools.count()
    acknowledged: list[str] = []
    left: list[Unanswered | None] = [None] * CLIENTS
    again, starts = 0, []
    for _ in range(kills):
        server = Server(shop, shipped=True)
        assert Browser(server.port, shipped=True).get("/").status == 200
        starts.append(server.worked())
        clients = [Client(server, numbers, one) for one in left]
        again += sum(one is not None for one in left)
        for client in clients:
            client.start()
        wanted, deadline = chance.randint(0, 12), time.monotonic() + 20
        while (
            sum(len(client.acknowledged) for client in clients) < wanted
            and time.monotonic() < deadline
        ):
            time.sleep(0.002)
        time.sleep(chance.uniform(0, 0.06))
        server.kill()
        for client in clients:
            client.join(10)
            acknowledged += client.acknowledged
        left = [client.unanswered for client in clients]
    with Server(shop, shipped=True) as server:
        for one in (one for one in left if one is not None):
            cookies, mark, token = one
            browser = Browser(server.port, shipped=True)
            browser.cookies = dict(cookies)
            assert save(browser, mark, token).status == 303
            acknowledged.append(mark)
            again += 1
    return acknowledged, again, starts


def test_no_acknowledged_save_is_lost_or_doubled_when_the_server_is_killed(
    shipped_shop: Path, quick: Path
) -> None:
    """A save without an answer is sent again with the same form, as a browser does, and is there once."""
    shops = [new_shop(shipped_shop, quick / f"shop-{number}") for number in range(2)]
    for shop in shops:
        with History.open(shop / "history.db") as history:
            history.note(kinds.UNIT_IN, "", {"tag": FIRST, "model": "Tern 13"})
    with ThreadPoolExecutor(2) as both:
        runs = list(
            both.map(
                lambda n: killed_again_and_again(shops[n], SERVER_KILLS // 2, n),
                range(2),
            )
        )
    for shop, (acknowledged, _, starts) in zip(shops, runs, strict=True):
        kept = Counter(marks(shop))
        assert [mark for mark in acknowledged if mark not in kept] == []
        assert [mark for mark, count in kept.items() if count > 1] == []
        assert set(kept) == set(acknowledged)
        assert {mark[0] for mark in kept} == set("TMF")
        assert len(acknowledged) == len(set(acknowledged)) > SERVER_KILLS // 2
        assert verify(shop / "history.db").problems() == ()
        assert max(starts) < 5, "a start after a kill took far longer than a start"
    starts = [took for run in runs for took in run[2]]
    print(
        f"{sum(len(run[0]) for run in runs)} acknowledged, {sum(run[1] for run in runs)} sent again; "
        f"first page after {statistics.median(starts):.1f} s of processor, at most {max(starts):.1f} s"
    )


def wait_for_saves(shop: Path, count: int) -> None:
    """Return once so many more have been saved."""
    before = len(marks(shop))
    wait_for(lambda: len(marks(shop)) >= before + count)


def killed_one_after_another(
    shop: Path, kills: int
) -> tuple[list[str], list[Unanswered]]:
    """The marks acknowledged by several processes of which one is killed again and again, and what got no answer."""
    chance, numbers = random.Random(kills), itertools.count()
    acknowledged: list[str] = []
    with Server(shop, "--processes", "3", shipped=True) as server:
        assert Browser(server.port, shipped=True).get("/").status == 200
        clients = [Client(server, numbers, None) for _ in range(CLIENTS)]
        for client in clients:
            client.start()
        for _ in range(kills):
            wait_for_saves(shop, 3)
            time.sleep(chance.uniform(0, 0.06))
            os.kill(chance.choice(server.members()), signal.SIGKILL)
            time.sleep(0.1)
            for place, client in enumerate(clients):
                # its process was the one; who is behind it comes again
                if not client.is_alive():
                    acknowledged += client.acknowledged
                    clients[place] = Client(server, numbers, client.unanswered)
                    clients[place].start()
    for client in clients:
        client.join(10)
        acknowledged += client.acknowledged
    return acknowledged, [client.unanswered for client in clients if client.unanswered]


def test_no_acknowledged_save_is_lost_or_doubled_when_one_of_several_processes_is_killed(
    shop: Path,
) -> None:
    with History.open(shop / "history.db") as history:
        history.note(kinds.UNIT_IN, "", {"tag": FIRST, "model": "Tern 13"})

    acknowledged, unanswered = killed_one_after_another(shop, MEMBER_KILLS)

    kept = Counter(marks(shop))
    open_still = {mark for _, mark, _ in unanswered}
    assert [mark for mark in acknowledged if mark not in kept] == []
    assert [mark for mark, count in kept.items() if count > 1] == []
    assert set(kept) - set(acknowledged) <= open_still
    assert len(acknowledged) > MEMBER_KILLS
    assert verify(shop / "history.db").problems() == ()


@pytest.fixture
def shop(shipped_shop: Path, quick: Path) -> Path:
    """A shop over the shipped entries."""
    return new_shop(shipped_shop, quick / "shop")


def test_a_server_killed_between_commit_and_answer_saves_once_when_the_form_is_sent_again(
    shop: Path,
) -> None:
    dying = (
        "import os, kb.bench.front as b, kb.history.memory as m; close = m.History.close_job\n"
        "def once(*a, **k): close(*a, **k); os._exit(9)\n"
        "m.History.close_job = once"
    )
    server = Server(shop, shipped=True, setting=dying)
    browser = Browser(server.port, shipped=True)
    token = browser.token()
    try:
        browser.confirm("T-1", token)
    except (OSError, http.client.HTTPException):
        pass
    else:
        raise AssertionError("the server answered after all")
    server.kill()
    assert units(shop) == ["T-1"]

    with Server(shop, shipped=True) as server:
        again = Browser(server.port, shipped=True)
        again.cookies = browser.cookies
        first, second = again.confirm("T-1", token), again.confirm("T-1", token)
    assert first.status == second.status == 303
    assert first.headers["Location"] == second.headers["Location"]
    assert units(shop) == ["T-1"]


def test_a_command_killed_at_any_moment_has_saved_all_or_nothing(shop: Path) -> None:
    """Exit status 0 means saved, once; a killed one is there once or not at all, and never half."""
    chance = random.Random(9)

    program = [sys.executable, "-m", "webui", "confirm", SHIPPED]

    def confirm(number: int) -> tuple[str, int]:
        unit = f"C-{number}"
        running = subprocess.Popen(
            [*program, "--model", "Tern 13", "--unit", unit, "--shop", str(shop)],
            cwd=ROOT,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        try:
            return unit, running.wait(chance.uniform(0.15, 1.6))
        except subprocess.TimeoutExpired:
            running.kill()
            return unit, running.wait()

    with ThreadPoolExecutor(2) as both:
        ended = list(both.map(confirm, range(COMMAND_KILLS)))
    kept = Counter(units(shop)) if (shop / "history.db").exists() else Counter()
    assert [unit for unit, status in ended if status == 0 and kept[unit] != 1] == []
    assert max(kept.values(), default=0) <= 1
    assert {status for _, status in ended} <= {0, -9}
    if kept:
        assert verify(shop / "history.db").problems() == ()
