"""Endurance of the real server: mixed requests over HTTP, memory and open files watched.

Run from the project's folder: `python tests/benchmarks/endurance.py [REQUESTS] [--rate N]` (20,000 unless told
otherwise, one after the other; with a rate so many a second: `10800 --rate 3` is an hour). Demanded: memory rises by
less than 30 MB after the first tenth, open files stay flat, nothing is left beside the history, no status of 500 or
above.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path[:0] = [
    str(Path(__file__).resolve().parents[2]),
    str(Path(__file__).resolve().parents[1]),
]

from reliability.running import Browser, Server, units  # noqa: E402 - the two folders come first

QUERIES = (
    "no lite when plugged in",
    "shuts off when hot",
    "fan loud",
    "keys dead",
    "wont chrge",
    "black screen",
)
MOST_MEGABYTES = 30.0


def memory(process: int) -> float:
    """Resident memory of a process in megabytes (Linux)."""
    text = Path(f"/proc/{process}/status").read_text()
    return int(text.split("VmRSS:")[1].split()[0]) / 1024


def request(browser: Browser, chance: random.Random, number: int) -> int:
    """One request of the mix: half searches, the rest pages and saves."""
    kind, words = chance.random(), chance.choice(QUERIES).replace(" ", "+")
    if kind < 0.5:
        return browser.get(
            f"/answer?q={words}+{chance.randrange(50)}&model=Tern+13"
        ).status
    if kind < 0.6:
        return browser.get(f"/?q={words}").status
    if kind < 0.7:
        return browser.get("/entry/battery-not-detected").status
    if kind < 0.75:
        return browser.get("/library").status
    if kind < 0.8:
        return browser.get("/review").status
    return browser.confirm(
        f"E-{number}", q=f"{chance.choice(QUERIES)} {chance.randrange(200)}"
    ).status


def main(requests: int, rate: float) -> int:
    """Run it, at so many requests a second (0: as quickly as it goes); gives the exit status."""
    chance, statuses = random.Random(27), Counter[int]()
    with (
        tempfile.TemporaryDirectory() as folder,
        Server(Path(folder, "shop"), shipped=True) as server,
    ):
        browsers = [Browser(server.port, shipped=True) for _ in range(8)]
        handles = Path(f"/proc/{server.process.pid}/fd")
        began, first, files = time.monotonic(), 0.0, 0
        for number in range(requests):
            time.sleep(max(began + number / rate - time.monotonic(), 0) if rate else 0)
            statuses[request(browsers[number % 8], chance, number)] += 1
            if number == requests // 10:
                first, files = memory(server.process.pid), len(os.listdir(handles))
            if number % max(requests // 10, 1) == 0:
                now, megabytes = time.monotonic() - began, memory(server.process.pid)
                opened = len(os.listdir(handles))
                print(
                    f"{number:6d} requests, {now:5.0f} s, {megabytes:.1f} MB, {opened} files open",
                    flush=True,
                )
        rise, more = (
            memory(server.process.pid) - first,
            len(os.listdir(handles)) - files,
        )
        left = [
            path.name
            for path in server.shop.iterdir()
            if path.name.endswith(("-journal", "-wal", ".new"))
        ]
        saved = len(units(server.shop))
        server.stop()
    print(
        f"{requests} requests in {time.monotonic() - began:.0f} s: {dict(statuses)}; {saved} jobs saved"
    )
    print(
        f"memory rose by {rise:.1f} MB, open files by {more}; left beside the history: {left}"
    )
    return (
        0
        if rise < MOST_MEGABYTES and more <= 4 and not left and max(statuses) < 500
        else 1
    )


def chosen() -> argparse.Namespace:
    """What the command line asks for."""
    given = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    given.add_argument("requests", type=int, nargs="?", default=20_000)
    given.add_argument("--rate", type=float, default=0.0, help="requests a second")
    return given.parse_args()


if __name__ == "__main__":
    asked = chosen()
    raise SystemExit(main(asked.requests, asked.rate))
