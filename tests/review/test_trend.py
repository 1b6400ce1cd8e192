"""Quarters of the trend: counted in the shop's own zone and filled up to the ends of the calendar."""

from __future__ import annotations

from collections import Counter
from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from helpers.working import PACK, PLUG, in_zone
from hypothesis import given
from hypothesis import strategies as st

from kb.bench.front import Bench
from kb.model import Confirmation
from kb.review.period import Period
from kb.review.trend import filled, quarter

# Quarters and days


def test_quarters_are_counted_in_all_and_by_cause(shop: Bench) -> None:
    review = shop.looking_back.overview().review

    assert review.quarters == (("2026-Q1", 3), ("2026-Q2", 2))
    assert {one.cause: one.quarters for one in review.failures}[PACK] == (
        ("2026-Q1", 2),
    )


def test_midnight_is_the_shops_own(shop: Bench) -> None:
    shop.jobs.confirm(Confirmation(PLUG, "Tern 13", closed_at="2026-06-30T22:30:00Z"))
    assert shop.looking_back.overview(since="2026-07-01").review.jobs == 0

    in_zone(shop, "Europe/Oslo")

    assert shop.looking_back.overview(since="2026-07-01").review.jobs == 1
    assert shop.looking_back.overview().review.quarters[-1] == ("2026-Q3", 1)


@given(st.dates(date(1990, 1, 1), date(2090, 1, 1)), st.integers(0, 3000))
def test_filling_gaps_keeps_every_count_and_leaves_no_quarter_out(
    first: date, days: int
) -> None:
    last = date.fromordinal(first.toordinal() + days)
    counts = tuple(
        sorted(Counter(quarter(day.isoformat()) for day in (first, last)).items())
    )

    found = filled(counts, first.isoformat(), last.isoformat())

    assert sum(count for _, count in found) == 2
    assert found[0][0] == quarter(first.isoformat())
    numbers = [int(name[:4]) * 4 + int(name[6]) for name, _ in found]
    assert all(other == one + 1 for one, other in pairwise(numbers))


def test_quarters_are_filled_up_to_the_end_of_the_calendar() -> None:
    assert [name for name, _ in filled((), "9999-07-01", "9999-12-31")] == [
        "9999-Q3",
        "9999-Q4",
    ]
    assert len(filled((), "0001-01-01", "9999-12-31")) == 4 * 9999


@pytest.mark.parametrize("day", ["0001-01-01", "9999-12-31"])
def test_the_ends_of_the_calendar_are_days_too(shop: Bench, day: str) -> None:
    period = Period(day, day, ZoneInfo("Pacific/Auckland"))

    assert period.begin <= period.end
    assert (
        shop.looking_back.overview(since="0001-01-01", until="9999-12-31").review.jobs
        == 5
    )
