"""Milliseconds to the answer fragment while several people type at once, against the real server on the demo shop.

Run `PYTHONPATH=. python tests/benchmarks/pages.py` (see --help). The server runs in a process of its own, as
`benchlore serve` starts it; every client types complaints letter by letter over one kept connection and asks as the
page does, once no key has come for a moment.
"""

from __future__ import annotations

import argparse
import http.client
import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from random import Random
from urllib.parse import urlencode

from kb.bench.front import Bench
from kb.demo import jobs
from kb.demo.complaints import complaint
from kb.demo.scenario import shipped_scenario

#: What the 95th percentile must stay under while all clients are at work, in milliseconds.
GOAL = 25.0
#: Mean seconds between two keys of one person who types fast (80 words a minute), each drawn from half to half as much.
PAUSE = 0.15
#: Seconds without a key after which the page asks (webui/static/bench.js).
QUIET = 0.12


def make_shop(folder: Path) -> list[str]:
    """The demo shop in a folder, with its index built; gives complaints to type."""
    bench = Bench(folder)
    entries = bench.entries.served()
    jobs.fill(bench.history(), jobs.invented_jobs(entries))
    bench.asking.models()
    bench.close()
    dice = Random(5)
    return [complaint(dice.choice(entries), dice) for _ in range(200)]


def started(folder: Path, processes: int) -> tuple[subprocess.Popen[str], int]:
    """The server on that shop, with so many processes that answer, and its port."""
    command = [
        sys.executable,
        "-m",
        "webui",
        "serve",
        "--shop",
        str(folder),
        "--port",
        "0",
    ]
    command += ["--processes", str(processes)]
    server = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    assert server.stdout
    for line in server.stdout:
        if found := re.search(r"http://[^:/]+:(\d+)/", line):
            return server, int(found[1])
    raise RuntimeError("the server ended before it said its address")


def typed(
    port: int, words: Sequence[str], dice: Random, seconds: float, pause: float
) -> list[float]:
    """The milliseconds of each answer while one person types complaint after complaint."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    took: list[float] = []
    end = time.perf_counter() + seconds
    while time.perf_counter() < end:
        text, model = dice.choice(words), dice.choice(sorted(shipped_scenario().models))
        for length in range(3, len(text) + 1):
            gap = pause * dice.uniform(0.5, 1.5)
            if gap < min(QUIET, pause):  # the next key comes before the page has asked
                time.sleep(gap)
                continue
            time.sleep(min(QUIET, gap))
            began = time.perf_counter()
            if began >= end:
                break
            connection.request(
                "GET", "/answer?" + urlencode({"q": text[:length], "model": model})
            )
            answer = connection.getresponse()
            answer.read()
            took.append((time.perf_counter() - began) * 1000)
            if answer.status != 200:
                raise RuntimeError(f"the server answered {answer.status}")
            time.sleep(max(gap - QUIET - took[-1] / 1000, 0.0))
    connection.close()
    return took


def measured(
    port: int, words: Sequence[str], clients: int, seconds: float, pause: float
) -> list[float]:
    """The milliseconds of all answers with so many people at work, sorted."""
    found: list[list[float]] = [[] for _ in range(clients)]

    def work(number: int) -> None:
        found[number] = typed(port, words, Random(number), seconds, pause)

    people = [
        threading.Thread(target=work, args=(number,)) for number in range(clients)
    ]
    for one in people:
        one.start()
    for one in people:
        one.join()
    return sorted(ms for took in found for ms in took)


def share(took: Sequence[float], part: float) -> float:
    """The value that this part of the sorted values stays at or below.

    >>> share([1.0, 2.0, 3.0, 4.0], 0.5)
    2.0
    """
    return took[max(0, -(-len(took) * int(part * 1000) // 1000) - 1)]


def main() -> None:
    """Measure one client and all of them, print a table, exit with 1 if the goal is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--clients", type=int, default=8)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument(
        "--pause", type=float, default=PAUSE, help="mean seconds between two keys"
    )
    parser.add_argument("--processes", type=int, default=1, help="of the server")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        words = make_shop(Path(folder))
        server, port = started(Path(folder), given.processes)
        try:
            # every thread opens its files
            measured(port, words, given.clients, 3.0, given.pause)
            print(
                f"{'clients':>7} {'answers':>8} {'median':>8} {'p95':>8} {'p99':>8} {'most':>8}   ms"
            )
            for clients in sorted({1, given.clients}):
                took = measured(port, words, clients, given.seconds, given.pause)
                figures = (
                    share(took, 0.5),
                    share(took, 0.95),
                    share(took, 0.99),
                    took[-1],
                )
                print(
                    f"{clients:7d} {len(took):8d} "
                    + " ".join(f"{ms:8.1f}" for ms in figures),
                    flush=True,
                )
        finally:
            server.terminate()
            server.wait(10)
    print(
        f"goal: p95 under {GOAL:g} ms with {given.clients} clients: {'met' if figures[1] < GOAL else 'missed'}"
    )
    raise SystemExit(0 if figures[1] < GOAL else 1)


if __name__ == "__main__":
    main()
