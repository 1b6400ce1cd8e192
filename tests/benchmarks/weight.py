"""Weight, length and taps of the main pages in a real browser: kilobytes on the line, screens on a phone, taps.

Run `PYTHONPATH=.:tests python tests/benchmarks/weight.py`; prints a table in Markdown. The demo shop is made anew in a
folder of its own. Kilobytes are what the browser received (headers too), for pages with an empty cache; for the many
complaints of `queries-dev.tsv` they are counted in the replies of the application, without a browser.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from statistics import mean, median
from typing import Any

from browser.conftest import QUIET, served
from browser.watching import SCREENS
from flask.testing import FlaskClient
from helpers import letters
from playwright.sync_api import Browser, Page, sync_playwright

from kb.bench.front import Bench
from kb.demo import jobs
from kb.model import Finding
from webui.app import create_app

#: Complaints typed letter by letter, with the pause of a quick hand and of a slow one, in milliseconds.
COMPLAINTS = (
    "no charge led orange",
    "shows no battery although one is fitted",
    "no sound from left speaker",
)
PAUSES = (80, 250)
WORDS = "no power no light"
PAGES = {
    "home": "/",
    "answer": f"/?q={WORDS}&model=Tern+13",
    "nothing fits": "/?q=dishwasher+leaks&model=Tern+13",
    "entry": "/entry/battery-not-detected",
    "review": "/review?model=Tern+13",
    "library": "/library",
}


def make_shop(folder: Path) -> tuple[Bench, str]:
    """The demo shop with a job of eight findings; gives the shop and that job."""
    bench = Bench(folder)
    jobs.fill(bench.history(), jobs.invented_jobs(bench.entries.served()))
    job = bench.jobs.begin(WORDS, "Tern 13")
    for _ in range(8):
        step = bench.jobs.standing(job).answer.next_test
        if step is None:
            break
        bench.jobs.found(job, Finding(f"{step.entry}/{step.name}", step.outcomes[-1]))
    return bench, job


def counted(page: Page) -> list[float]:
    """The kilobytes of every reply to the page from now on, growing as they come."""
    received: list[float] = []

    def add(told: dict[str, Any]) -> None:
        received.append(told["encodedDataLength"] / 1000)

    watch = page.context.new_cdp_session(page)
    watch.send("Network.enable")
    watch.on("Network.loadingFinished", add)
    return received


def opened(browser: Browser, address: str) -> str:
    """One row: kilobytes with an empty cache, screens of a phone."""
    context = browser.new_context(**SCREENS["phone"])
    page = context.new_page()
    received = counted(page)
    page.goto(address)
    page.wait_for_load_state("networkidle")
    high = (
        page.evaluate("document.documentElement.scrollHeight")
        / SCREENS["phone"]["viewport"]["height"]
    )
    context.close()
    return f"{sum(received):.0f} | {high:.1f}"


def typed(browser: Browser, address: str, words: str, pause: int) -> str:
    """One row: kilobytes and answers while a complaint is typed."""
    context = browser.new_context(**SCREENS["phone"])
    page = context.new_page()
    page.goto(address)
    page.wait_for_load_state("networkidle")
    received = counted(page)
    page.get_by_role("searchbox").press_sequentially(words, delay=pause)
    page.wait_for_timeout(800)
    context.close()
    return f"{sum(received):.1f} | {len(received)}"


def many(client: FlaskClient) -> str:
    """Rows: what complaints of 26 to 60 letters weigh when each letter is asked for; the heaviest by their words."""
    weights = sorted(
        (letters.typed(client, words).weight / 1000, words)
        for words in letters.long_complaints()
    )
    only = [weight for weight, _ in weights]
    over = sum(weight > 40 for weight in only)
    rows = (
        f"{len(only)} | {mean(only):.1f} | {median(only):.1f} | {only[-1]:.1f} | {over}"
    )
    heaviest = "; ".join(f"{words} {weight:.1f}" for weight, words in weights[-8:])
    return f"| {rows} |\n\nHeaviest: {heaviest}"


def main() -> None:
    """Print the tables."""
    folder = Path(tempfile.mkdtemp())
    bench, job = make_shop(folder / "shop")
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    with served(create_app(bench)) as address, sync_playwright() as player:
        browser = player.chromium.launch(
            executable_path=program, args=[*QUIET, "--no-sandbox"]
        )
        print("| page | KB | screens on a phone |\n| --- | ---: | ---: |")
        for name, path in (PAGES | {"job with findings": f"/job/{job}"}).items():
            print(f"| {name} | {opened(browser, address + path)} |", flush=True)
        print("\n| typed | ms a key | KB | answers |\n| --- | ---: | ---: | ---: |")
        for words in COMPLAINTS:
            for pause in PAUSES:
                print(
                    f"| {words} | {pause} | {typed(browser, address, words, pause)} |",
                    flush=True,
                )
        browser.close()
    print("\n| complaints | KB, mean | median | worst | over 40 |")
    print("| ---: | ---: | ---: | ---: | ---: |")
    print(many(create_app(bench).test_client()))
    shutil.rmtree(folder)


if __name__ == "__main__":
    main()
