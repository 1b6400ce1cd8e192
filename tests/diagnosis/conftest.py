"""A shop in memory."""

from __future__ import annotations

import pytest
from helpers.shops import shop_of

from kb.bench.front import Bench


@pytest.fixture
def bench(request: pytest.FixtureRequest) -> Bench:
    """The shop whose fixture the file is marked with, else a fresh one over the small corpus, in memory."""
    return shop_of(request, "in_memory")
