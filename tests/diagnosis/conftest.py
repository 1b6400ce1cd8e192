"""A shop in memory."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from helpers.places import CORPUS
from helpers.shops import quick_folder

from kb.bench.front import Bench


@pytest.fixture
def bench() -> Iterator[Bench]:
    """A fresh shop over the small corpus, in memory where there is such a place."""
    with quick_folder() as folder:
        made = Bench(folder / "shop", stock=CORPUS)
        yield made
        made.close()
