"""A door with a cheap hash, and pages behind it."""

from __future__ import annotations

from pathlib import Path

import pytest
from flask import Flask
from helpers.doors import GOOD, Watch

from kb.bench.front import Bench
from webui.app import create_app
from webui.guard import passphrase as phrases
from webui.guard.door import Door, Right


@pytest.fixture
def watch() -> Watch:
    return Watch()


@pytest.fixture
def door(tmp_path: Path, watch: Watch, monkeypatch: pytest.MonkeyPatch) -> Door:
    """A door with a cheap hash, as what is tested is not its cost."""
    monkeypatch.setattr(phrases.hashed, "__defaults__", ((16, 1, 1),))
    made = Door(tmp_path / "shop", watch)
    made.set_passphrase(Right.WRITE, GOOD)
    return made


@pytest.fixture
def guarded(bench: Bench, door: Door) -> Flask:
    return create_app(bench, door=door)
