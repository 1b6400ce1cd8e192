"""Shops over the shipped entries with jobs or on a known day, and somebody who visits the pages of a test's shop."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from helpers.shops import quick_folder
from helpers.visiting import HOME, Visitor

from kb.bench.front import Bench
from kb.model import Confirmation
from webui.app import create_app

PLUG, PACK = "battery-not-detected/contact", "battery-not-detected/pack"


@pytest.fixture
def with_three_jobs(stock_bench: Bench) -> Iterator[Bench]:
    """A shop of its own over the shipped entries with three jobs on two machines of two models."""
    stock_bench.asking.models()
    with quick_folder() as folder:
        made = Bench(Path(shutil.copytree(stock_bench.folder, folder / "shop")))
        for job in (
            Confirmation(
                PACK,
                "Tern 13",
                unit="T-1",
                minutes=10,
                part="battery",
                closed_at="2026-01-10T09:00:00Z",
            ),
            Confirmation(
                PLUG,
                "Tern 13",
                unit="T-1",
                minutes=20,
                closed_at="2026-06-30T22:30:00Z",
            ),
            Confirmation(
                PACK,
                "Skua 14",
                unit="S-1",
                minutes=40,
                part="battery",
                closed_at="2026-07-02T09:00:00Z",
            ),
        ):
            made.jobs.confirm(job)
        yield made
        made.close()


@pytest.fixture
def on_a_known_day(stock_bench: Bench, tmp_path: Path) -> Iterator[Bench]:
    """A shop of its own over the shipped entries, on a day that is known."""
    stock_bench.asking.models()
    of_another_day = shutil.ignore_patterns("history*")
    folder = Path(
        shutil.copytree(stock_bench.folder, tmp_path / "shop", ignore=of_another_day)
    )
    made = Bench(folder, clock=lambda: datetime(2031, 3, 9, 10, 0, tzinfo=UTC))
    yield made
    made.close()


@pytest.fixture
def app(bench: Bench) -> Flask:
    """The pages of the shop that the file is marked with."""
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
