"""Parts to keep, reckoned from what was used in the days seen."""

from __future__ import annotations

import pytest
import scipy.stats
from helpers.working import works
from hypothesis import given
from hypothesis import strategies as st

from kb.bench.front import Bench
from kb.review.demand import needed
from kb.review.period import Span
from kb.review.sums import failures_of

# Parts to keep


def test_parts_are_reckoned_from_what_was_used_in_the_days_seen(shop: Bench) -> None:
    seen = shop.looking_back.overview()

    assert seen.span == Span("2026-01-01", "2026-04-10", 100)
    battery, board = seen.stock
    assert (battery.part, battery.used, battery.from_donors, board.used) == (
        "battery",
        2,
        1,
        1,
    )
    # (2 + 1/2) · 91/100; limits of scipy.stats.nbinom(2.5, 100/191)
    assert battery.expected == pytest.approx(2.275)
    ahead = scipy.stats.nbinom(2.5, 100 / 191)
    assert (battery.low, battery.high) == (ahead.ppf(0.025), ahead.ppf(0.975))


def test_only_the_chosen_days_count(shop: Bench) -> None:
    seen = shop.looking_back.overview(since="2026-03-01", until="2026-03-31")

    assert (seen.review.jobs, seen.span.days, [one.used for one in seen.stock]) == (
        1,
        31,
        [1],
    )


def test_days_before_the_first_and_after_the_last_job_are_not_days_without_need(
    shop: Bench,
) -> None:
    assert (
        shop.looking_back.overview(since="2000-01-01", until="2100-01-01").span.days
        == 100
    )
    assert shop.looking_back.overview(since="2027-01-01").span == Span()
    assert shop.looking_back.overview(since="2027-01-01").stock == ()


def test_a_shop_without_jobs_needs_nothing(bench: Bench) -> None:
    seen = bench.looking_back.overview()

    assert (seen.stock, seen.models, seen.gaps, seen.span.days) == ((), (), (), 0)
    assert len(seen.unconfirmed) == len(bench.entries.served())


@given(st.integers(0, 60), st.integers(1, 400))
def test_more_pieces_used_never_ask_for_fewer(used: int, days: int) -> None:
    def keep(count: int) -> int:
        works_with_it = works(*[("", None, "battery")] * count)
        return sum(one.high for one in needed(failures_of(works_with_it), days))

    assert keep(used) <= keep(used + 1)
