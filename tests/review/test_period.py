"""Periods as they are typed."""

from __future__ import annotations

import pytest

from kb.bench.front import Bench
from kb.review.period import ALWAYS


def test_what_is_no_day_is_refused(shop: Bench) -> None:
    with pytest.raises(ValueError, match="nonsense"):
        shop.looking_back.overview(since="nonsense")


def test_a_period_without_ends_holds_everything() -> None:
    assert ALWAYS.holds("2026-01-01T00:00:00Z")
