"""A shop in memory, its application, and every route with something real in the place of names."""

from __future__ import annotations

import pytest
from flask import Flask

from kb.bench.front import Bench
from security.walking import Walk
from webui.app import create_app


@pytest.fixture
def bench(in_memory: Bench) -> Bench:
    in_memory.asking.models()
    return in_memory


@pytest.fixture
def app(bench: Bench) -> Flask:
    return create_app(bench)


@pytest.fixture
def walk(app: Flask, bench: Bench) -> Walk:
    return Walk(app, bench)
