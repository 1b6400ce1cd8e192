"""A shop in memory, its application, and every route with something real in the place of names."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from flask import Flask
from helpers.shops import quick_folder

from kb.bench.front import Bench
from security.serving import CORPUS
from security.walking import Walk
from webui.app import create_app


@pytest.fixture
def bench() -> Iterator[Bench]:
    with quick_folder() as folder:
        made = Bench(folder / "shop", stock=CORPUS)
        made.asking.models()
        yield made
        made.close()


@pytest.fixture
def app(bench: Bench) -> Flask:
    return create_app(bench)


@pytest.fixture
def walk(app: Flask, bench: Bench) -> Walk:
    return Walk(app, bench)
