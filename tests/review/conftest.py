"""A shop in memory with five jobs that can be counted by hand."""

from __future__ import annotations

import pytest
from helpers.shops import shop_of
from helpers.working import BOARD, PACK, PLUG, in_zone

from kb.bench.front import Bench
from kb.model import Confirmation


@pytest.fixture
def bench(request: pytest.FixtureRequest) -> Bench:
    """The shop whose fixture the file is marked with, else a fresh one over the small corpus, in memory."""
    return shop_of(request, "in_memory")


@pytest.fixture
def shop(bench: Bench) -> Bench:
    """Five jobs on three machines of two models, from 1 January to 10 April 2026: 100 days."""
    in_zone(bench, "UTC")
    for job in (
        Confirmation(
            PACK,
            "Tern 13",
            unit="T-1",
            minutes=10,
            part="battery",
            closed_at="2026-01-01T09:00:00Z",
        ),
        Confirmation(
            PLUG, "tern 13", unit="t-1", minutes=20, closed_at="2026-02-01T09:00:00Z"
        ),
        Confirmation(
            PACK,
            "Tern 13",
            unit="T-2",
            minutes=40,
            part="battery",
            donor="T-9",
            closed_at="2026-03-31T09:00:00Z",
        ),
        Confirmation(
            BOARD,
            "Skua 14",
            unit="S-1",
            part="charge-indicator board",
            closed_at="2026-04-01T09:00:00Z",
        ),
        Confirmation(
            PLUG, "Skua 14", unit="S-1", minutes=5, closed_at="2026-04-10T09:00:00Z"
        ),
    ):
        bench.jobs.confirm(job)
    return bench
