"""Shops for the tests of the running program; the index over the shipped entries is built once."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from running import new_shop
from shops import quick_folder

from kb.bench import Bench


@pytest.fixture(scope="session")
def stock_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder with nothing but an index over the shipped entries."""
    folder = tmp_path_factory.mktemp("stock")
    made = Bench(folder / "first")
    made.models()
    made.close()
    (folder / "shop").mkdir()
    shutil.move(folder / "first" / "index.db", folder / "shop" / "index.db")
    return folder / "shop"


@pytest.fixture
def quick() -> Iterator[Path]:
    """A folder in memory: for tests in which flushing proves nothing."""
    with quick_folder() as folder:
        yield folder


@pytest.fixture
def shop(stock_shop: Path, quick: Path) -> Path:
    """A shop of its own for one test."""
    return new_shop(stock_shop, quick / "shop")
