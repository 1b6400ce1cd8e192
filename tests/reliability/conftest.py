"""Shops for the tests of the running program; the index over the shipped entries is built once."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.shops import quick_folder

from kb.bench.front import Bench
from kb.library import shelf
from reliability.running import CORPUS, new_shop

SHIPPED = shelf.stock_folder()


def pytest_configure() -> None:
    """Let the servers be ended by Ctrl-C: what a shell starts in the background ignores it, and hands that on."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.fixture(autouse=True)
def small_library(monkeypatch: pytest.MonkeyPatch) -> None:
    """The small library of the tests in place of the shipped one, as in the processes they start."""
    monkeypatch.setattr(shelf, "stock_folder", lambda: CORPUS)


def _indexed(folder: Path, stock: Path) -> Path:
    made = Bench(folder, stock)
    made.asking.models()
    made.close()
    return folder


@pytest.fixture(scope="session")
def shipped_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder with an index over the shipped entries."""
    return _indexed(tmp_path_factory.mktemp("shipped") / "shop", SHIPPED)


@pytest.fixture(scope="session")
def stock_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder with an index over the small library."""
    return _indexed(tmp_path_factory.mktemp("stock") / "shop", CORPUS)


@pytest.fixture
def quick() -> Iterator[Path]:
    """A folder in memory: for tests in which flushing proves nothing."""
    with quick_folder() as folder:
        yield folder


@pytest.fixture
def shop(stock_shop: Path, quick: Path) -> Path:
    """A shop of its own for one test."""
    return new_shop(stock_shop, quick / "shop")
