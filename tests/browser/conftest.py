"""A real server and a real browser: the pages on a phone and on a desktop screen, with everything watched."""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

import pytest
from flask import Flask
from playwright.sync_api import Browser, sync_playwright
from waitress import wasyncore
from waitress.server import create_server

from browser.watching import SCREENS, Watched, watched
from kb.bench.front import Bench
from webui.app import create_app

#: Where the browser is, if it is not on the path.
BROWSER_VARIABLE = "BENCHLORE_CHROMIUM"
QUIET = (
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The browser; without one the tests are skipped, but on the build server they fail."""
    program = (
        os.environ.get(BROWSER_VARIABLE)
        or shutil.which("chromium")
        or shutil.which("chromium-browser")
    )
    if not program:
        told = f"no chromium found: install it, or name it in {BROWSER_VARIABLE}"
        if os.environ.get("CI"):
            pytest.fail(told)
        pytest.skip(told)
    rooted = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as player:
        browser = player.chromium.launch(
            executable_path=program, headless=True, args=[*QUIET, *rooted]
        )
        yield browser
        browser.close()


@pytest.fixture
def shop(stocked: Bench) -> Bench:
    """A shop of its own over the shipped entries, with an index that is built already."""
    return stocked


@pytest.fixture
def address(shop: Bench) -> Iterator[str]:
    """Where the pages of that shop are served meanwhile."""
    with served(create_app(shop)) as place:
        yield place


@contextmanager
def served(app: Flask) -> Iterator[str]:
    """Where an application is served meanwhile."""
    server = create_server(app, host="127.0.0.1", port=0, threads=4)
    thread = threading.Thread(target=_run, args=(server,), daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.effective_port}"
    server.close()
    # what the browser still holds open would keep the loop alive
    wasyncore.close_all(server._map, ignore_all=True)
    thread.join(5)


def _run(server: object) -> None:
    """Serve until closed; closing a listening socket under a running loop ends it with an error of no interest."""
    with suppress(OSError):
        server.run()  # type: ignore[attr-defined]


@pytest.fixture(params=sorted(SCREENS))
def at_bench(
    request: pytest.FixtureRequest, chromium: Browser, address: str
) -> Iterator[Watched]:
    """The bench on a phone, then on a desktop screen; at the end nothing may have gone wrong."""
    context = chromium.new_context(reduced_motion="reduce", **SCREENS[request.param])
    held = watched(context, address)
    yield held
    context.close()
    assert held.errors == []
    assert held.strays == []
