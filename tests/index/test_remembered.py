"""What is remembered stays within bounds."""

from __future__ import annotations

from functools import partial
from operator import mul

import pytest

from kb.bench.front import Bench
from kb.index import remembered
from kb.index.remembered import Kept


def test_what_is_remembered_of_a_large_library_stays_within_bounds(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remembered, "MOST_REMEMBERED", 4)

    with bench.shop.files.reading() as (index, _):
        given = [
            index.remembered.get(Kept.MODELS, partial(mul, 2, number), number)
            for number in range(100)
        ]
        again = index.remembered.get(Kept.MODELS, lambda: 0, 99)

    assert given == [number * 2 for number in range(100)]
    assert again == 198
    assert len(index.remembered._passing) <= 4
