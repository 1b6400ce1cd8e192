"""A shop of each test's own over the shipped entries, and somebody who visits its pages."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from helpers.visiting import Visitor

from kb.bench.front import Bench
from webui.app import create_app


@pytest.fixture
def stocked_folder(stock_bench: Bench, tmp_path: Path) -> Path:
    """The folder of a new shop without a job, with an index that is built already."""
    stock_bench.asking.models()
    return Path(shutil.copytree(stock_bench.folder, tmp_path / "shop"))


@pytest.fixture
def stocked(stocked_folder: Path) -> Iterator[Bench]:
    """A shop of its own over the shipped entries."""
    made = Bench(stocked_folder)
    yield made
    made.close()


@pytest.fixture
def app(bench: Bench) -> Flask:
    """The pages of whatever shop the file's tests call `bench`."""
    return create_app(bench)


@pytest.fixture
def visitor(app: Flask) -> Visitor:
    """Somebody at those pages."""
    return Visitor(app)
