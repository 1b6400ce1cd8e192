"""A folder in which every command has something to do, for what a command does whose output is lost."""

from __future__ import annotations

import os
import shutil
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from helpers.offices import ONE, job, put
from helpers.places import CORPUS
from helpers.pooling import file_of
from helpers.unwritten import CAUSE, FULL

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.history.copies.backup import backup
from kb.model import Confirmation


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a shop of one job and one machine, a backup of it, and a job to import."""
    folder = tmp_path_factory.mktemp("output")
    with closing(Bench(folder / "shop", stock=CORPUS)) as bench:
        bench.jobs.confirm(Confirmation(CAUSE, "Tern 13", words="batt missing"))
        bench.arrivals.arrive(Arrived(lot="P6", model="Tern 13"))
        house = bench.folder / "entries" / "house"
        house.mkdir(parents=True)
        (house / "checkout.md").write_text(
            "- **keys** (2 min; often; part keyboard; sits 2): press every one\n"
        )
        (house / "machine.md").write_text("- **keyboard** (weight 8; depth 2)\n")
        backup(bench.folder, folder / "old.zip", datetime(2026, 11, 24, tzinfo=UTC))
    line = '{"model": "Skua 14", "cause": "no-battery/pack", "closed_at": "2026-11-24T10:15:00Z"}\n'
    (folder / "given.jsonl").write_text(line)
    (folder / "pallet.csv").write_text("model\nTern 13\n")
    (folder / "counts.json").write_bytes(file_of("no-battery"))
    put(folder / "shared", [job(ONE, 1)])
    return folder


@pytest.fixture
def place(made: Path, tmp_path: Path) -> Path:
    """A copy of that folder of the test's own."""
    if not hasattr(os, "fork"):
        pytest.skip("commands are run in forks of this process, which takes fork")
    if not FULL.exists():
        pytest.skip("this system has no device that is always full")
    return Path(shutil.copytree(made, tmp_path / "place"))
