"""Length of every sheet and of a job under every sheet on a phone, in each language: the longest ones in screens.

Run `PYTHONPATH=.:tests python tests/benchmarks/length.py`; prints a table in Markdown. The demo shop is made anew in a
folder of its own; each job was told the title and up to eight of the tests that came next, each with its last outcome.
"""

from __future__ import annotations

import shutil
import statistics
import tempfile
from pathlib import Path

from browser.conftest import QUIET, served
from browser.watching import SCREENS
from playwright.sync_api import Browser, sync_playwright
from weight import make_shop

from kb.bench.front import Bench
from kb.model import Finding
from webui.app import create_app

LANGUAGES = ("en", "de", "es")
FINDINGS = 8


def begun(bench: Bench, title: str) -> str:
    """A job with as many findings as there are tests to take, at most eight; gives its path."""
    job = bench.jobs.begin(title, "Tern 13")
    for _ in range(FINDINGS):
        step = bench.jobs.standing(job).answer.next_test
        if step is None:
            break
        bench.jobs.found(job, Finding(f"{step.entry}/{step.name}", step.outcomes[-1]))
    return f"/job/{job}"


def heights(
    browser: Browser, address: str, paths: list[str], language: str
) -> list[float]:
    """How many screens each of the pages is high, with every fold closed."""
    context = browser.new_context(**SCREENS["phone"], locale=language)
    page = context.new_page()
    found = []
    for path in paths:
        page.goto(address + path)
        found.append(
            page.evaluate("document.documentElement.scrollHeight / innerHeight")
        )
    context.close()
    return found


def main() -> None:
    """Print the table."""
    folder = Path(tempfile.mkdtemp())
    bench, _ = make_shop(folder / "shop")
    sheets = {entry.slug: entry.title for entry in bench.entries.served()}
    kinds = {
        "sheets": {slug: f"/entry/{slug}" for slug in sheets},
        "jobs": {slug: begun(bench, title) for slug, title in sheets.items()},
    }
    program = shutil.which("chromium") or shutil.which("chromium-browser")
    print("| | language | mean | longest | |\n| --- | --- | ---: | ---: | --- |")
    with served(create_app(bench)) as address, sync_playwright() as player:
        browser = player.chromium.launch(
            executable_path=program, args=[*QUIET, "--no-sandbox"]
        )
        for kind, paths in kinds.items():
            for language in LANGUAGES:
                high = heights(browser, address, list(paths.values()), language)
                longest = max(zip(high, paths, strict=True))
                print(
                    f"| {kind} | {language} | {statistics.mean(high):.2f} | {longest[0]:.2f} | {longest[1]} |"
                )
        browser.close()
    shutil.rmtree(folder)


if __name__ == "__main__":
    main()
