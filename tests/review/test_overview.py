"""Looking back on a history that can be counted by hand: parts to keep, models compared, gaps, quarters, days."""

from __future__ import annotations

import json
import math
from collections.abc import Callable

import pytest
from click.testing import Result

from kb.bench.front import Bench
from kb.review.overview import Overview


def test_the_review_in_json_keeps_its_keys_and_has_the_new_ones(
    run: Callable[..., Result],
) -> None:
    run(
        "confirm",
        "battery-not-detected/contact",
        "--model",
        "Tern 13",
        "--unit",
        "T-1",
        "--minutes",
        "12",
    )

    told = json.loads(run("review", "--json").stdout)

    kept = {
        "model",
        "since",
        "jobs",
        "machines",
        "median_minutes",
        "total_minutes",
        "parts",
        "failures",
    }
    added = {
        "until",
        "quarters",
        "days_seen",
        "stock",
        "models",
        "gaps",
        "never_confirmed",
    }
    assert kept | added <= told.keys()
    assert told["models"][0]["minutes_per_machine"] == {"value": 12.0, "interval": None}
    assert math.isclose(told["models"][0]["cause_found"]["value"], 1.0)
    assert "Models by bench minutes" in run("review", "--until", "2100-01-01").stdout


def test_an_overview_needs_no_readable_history(
    shop: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop.jobs.nothing_fits("hums", "Tern 13")
    monkeypatch.setattr(shop.shop.files, "usable_history", lambda: None)

    seen: Overview = shop.looking_back.overview()

    assert (seen.review.jobs, seen.gaps) == (5, ())
