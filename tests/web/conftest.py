"""A shop of each test's own over the shipped entries, and somebody who visits its pages."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from helpers.places import CORPUS
from helpers.shops import quick_folder
from helpers.visiting import HOME, Visitor

from kb.bench.front import Bench
from kb.model import Confirmation
from webui.app import create_app

PLUG, PACK = "battery-not-detected/contact", "battery-not-detected/pack"

#: Shops that a file of tests can be marked with, by the name of their fixture.
SHOPS = {"shipped": "stocked", "with three jobs": "with_three_jobs", "on a known day": "on_a_known_day"}


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
def with_three_jobs(stock_bench: Bench) -> Iterator[Bench]:
    """A shop of its own over the shipped entries with three jobs on two machines of two models."""
    stock_bench.asking.models()
    with quick_folder() as folder:
        made = Bench(Path(shutil.copytree(stock_bench.folder, folder / "shop")))
        for job in (
            Confirmation(PACK, "Tern 13", unit="T-1", minutes=10, part="battery", closed_at="2026-01-10T09:00:00Z"),
            Confirmation(PLUG, "Tern 13", unit="T-1", minutes=20, closed_at="2026-06-30T22:30:00Z"),
            Confirmation(PACK, "Skua 14", unit="S-1", minutes=40, part="battery", closed_at="2026-07-02T09:00:00Z"),
        ):
            made.jobs.confirm(job)
        yield made
        made.close()


@pytest.fixture
def on_a_known_day(stock_bench: Bench, tmp_path: Path) -> Iterator[Bench]:
    """A shop of its own over the shipped entries, on a day that is known."""
    stock_bench.asking.models()
    of_another_day = shutil.ignore_patterns("history*")
    folder = Path(shutil.copytree(stock_bench.folder, tmp_path / "shop", ignore=of_another_day))
    made = Bench(folder, clock=lambda: datetime(2031, 3, 9, 10, 0, tzinfo=UTC))
    yield made
    made.close()


@pytest.fixture
def bench(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Bench]:
    """A shop over the small corpus, or the one of `SHOPS` that the file is marked with."""
    mark = request.node.get_closest_marker("shop")
    if mark:
        yield request.getfixturevalue(SHOPS[mark.args[0]])
        return
    made = Bench(tmp_path / "shop", stock=CORPUS)
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


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    made = app.test_client()
    made.get("/", base_url=HOME)
    return made
