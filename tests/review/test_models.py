"""Models compared per machine, with what a small number leaves open."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.working import works

from kb.bench.front import Bench
from kb.review.models import compared
from kb.review.sums import ModelSums, models_of
from kb.review.work import PutAway

# Models compared


def test_models_are_compared_per_machine_with_what_a_small_number_leaves_open(
    shop: Bench,
) -> None:
    tern, skua = shop.looking_back.overview().models

    assert (tern.model, tern.machines, tern.jobs.value, tern.parts.value) == (
        "Tern 13",
        2,
        1.5,
        1.0,
    )
    # machines of 30 and 40 minutes: 35 ± 12.706 · 7.0711 / sqrt(2) (NIST handbook, table 1.3.6.7.2, 1 degree)
    assert tern.minutes
    assert tern.minutes.interval
    assert [tern.minutes.value, tern.minutes.interval.high] == pytest.approx(
        [35.0, 35 + 12.706 * 5], abs=0.01
    )
    assert tern.minutes.interval.low == 0.0
    # 3 jobs: Garwood's limits are 0.6187 and 8.7673 (NIST/SEMATECH and scipy.stats.chi2)
    assert tern.jobs.interval
    assert (tern.jobs.interval.low * 2, tern.jobs.interval.high * 2) == pytest.approx(
        (0.6187, 8.7673), abs=1e-4
    )
    assert (skua.model, skua.machines) == ("Skua 14", 1)


def test_a_machine_with_a_job_of_unknown_length_gives_no_minutes(shop: Bench) -> None:
    skua = shop.looking_back.overview().models[1]

    assert skua.minutes is None


def test_a_single_lucky_machine_is_not_put_first() -> None:
    models = ["Lucky", *["Steady"] * 9]
    told = works(
        ("a", 1, ""), *[(f"b{number}", 20.0 + number, "") for number in range(9)]
    )

    assert [
        line.model for line in compared(models_of(replace(told, models=models)))
    ] == [
        "Steady",
        "Lucky",
    ]


def test_machines_put_away_without_a_cause_lower_the_share_that_came_good(
    shop: Bench,
) -> None:
    shop.jobs.retract(shop.jobs.begin("smells of fish", "Tern 13", "T-3"), "no time")
    shop.jobs.retract(shop.jobs.begin("smells of fish", "Tern 13", "T-1"), "came back")

    tern = shop.looking_back.overview().models[0]

    assert tern.good.value == pytest.approx(2 / 3)
    assert tern.put_away == 1


def test_all_models_are_compared_whichever_is_asked_for(shop: Bench) -> None:
    seen = shop.looking_back.overview("Skua 14")

    assert (seen.review.jobs, len(seen.models)) == (2, 2)


def test_a_put_away_machine_of_a_model_never_confirmed_is_no_line() -> None:
    assert (
        compared(
            ModelSums(), [PutAway("j", "Tern 13", "t", "", "", "2026-01-01T00:00:00Z")]
        )
        == ()
    )
