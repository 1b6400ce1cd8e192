"""Endurance of the real server: mixed requests over HTTP, memory and open files watched.

Run from the project's folder: `python tests/benchmarks/endurance.py [REQUESTS]` (20,000 unless told otherwise).
Demanded: memory rises by less than 30 MB after the first tenth, open files stay flat, nothing is left beside the
history, no status of 500 or above.
"""

from __future__ import annotations

import os
import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[2]), str(Path(__file__).resolve().parents[1])]

from reliability.running import Browser, Server, units  # noqa: E402 - the two folders come first

QUERIES = ("no lite when plugged in", "shuts off when hot", "fan loud", "keys dead", "wont chrge", "black screen")
MOST_MEGABYTES = 30.0


def memory(process: int) -> float:
    """Resident memory of a process in megabytes (Linux)."""
    text = Path(f"/proc/{process}/status").read_text()
    return int(text.split("VmRSS:")[1].split()[0]) / 1024


def request(browser: Browser, chance: random.Random, number: int) -> int:
    """One request of the mix: half searches, the rest pages and saves."""
    kind, words = chance.random(), chance.choice(QUERIES).replace(" ", "+")
    if kind < 0.5:
        return browser.get(f"/answer?q={words}+{chance.randrange(50)}&model=Tern+13").status
    if kind < 0.6:
        return browser.get(f"/?q={words}").status
    if kind < 0.7:
        return browser.get("/entry/battery-not-detected").status
    if kind < 0.75:
        return browser.get("/library").status
    if kind < 0.8:
        return browser.get("/review").status
    return browser.confirm(f"E-{number}", q=f"{chance.choice(QUERIES)} {chance.randrange(200)}").status


def main(requests: int) -> int:
    """Run it; gives the exit status."""
    chance, statuses = random.Random(27), Counter[int]()
    with tempfile.TemporaryDirectory() as folder, Server(Path(folder, "shop"), shipped=True) as server:
        browsers = [Browser(server.port, shipped=True) for _ in range(8)]
        handles = Path(f"/proc/{server.process.pid}/fd")
        began, first, files = time.monotonic(), 0.0, 0
        for number in range(requests):
            statuses[request(browsers[number % 8], chance, number)] += 1
            if number == requests // 10:
                first, files = memory(server.process.pid), len(os.listdir(handles))
            if number % max(requests // 10, 1) == 0:
                print(
                    f"{number:6d} requests, {memory(server.process.pid):.1f} MB, {len(os.listdir(handles))} files open"
                )
        rise, more = memory(server.process.pid) - first, len(os.listdir(handles)) - files
        left = [path.name for path in server.shop.iterdir() if path.name.endswith(("-journal", "-wal", ".new"))]
        saved = len(units(server.shop))
        server.stop()
    print(f"{requests} requests in {time.monotonic() - began:.0f} s: {dict(statuses)}; {saved} jobs saved")
    print(f"memory rose by {rise:.1f} MB, open files by {more}; left beside the history: {left}")
    return 0 if rise < MOST_MEGABYTES and more <= 4 and not left and max(statuses) < 500 else 1


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000))
