"""The desk that looks back: it needs the index alone, and cuts days by the shop's own zone."""

from __future__ import annotations

import threading
from unittest.mock import Mock

import pytest
from helpers.working import in_zone

from kb.bench import looking_back
from kb.bench.front import Bench
from kb.model import Confirmation
from kb.review import kept


def test_a_shop_is_looked_back_on_without_a_history_that_can_be_read(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))
    monkeypatch.setattr(bench.shop.files, "usable_history", lambda: None)

    seen = bench.looking_back.overview()

    assert (seen.review.jobs, seen.gaps) == (1, ())


def test_days_begin_at_the_midnight_of_the_shop(bench: Bench) -> None:
    bench.jobs.confirm(
        Confirmation("no-battery/pack", "Tern 13", closed_at="2026-06-30T22:30:00Z")
    )

    in_zone(bench, "Europe/Oslo")
    assert bench.looking_back.overview(since="2026-07-01").review.jobs == 1

    in_zone(bench, "UTC")
    assert bench.looking_back.overview(since="2026-07-01").review.jobs == 0


def test_warmed_up_it_counts_all_jobs_before_anybody_asks_but_those_of_a_very_long_history(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13"))
    count = Mock(wraps=kept.summed)
    monkeypatch.setattr(kept, "summed", count)
    worker = threading.Thread(target=bench.looking_back.warm)

    monkeypatch.setattr(looking_back, "MOST_COUNTED", 0)
    bench.looking_back.warm()
    count.assert_not_called()

    monkeypatch.setattr(looking_back, "MOST_COUNTED", 1)
    worker.start()
    worker.join()
    count.assert_called_once()

    assert bench.looking_back.overview().review.jobs == 1
    count.assert_called_once()
