"""Counts of confirmations, faded by half-lives and shown whole."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from helpers.clocks import Clock
from helpers.humming import BOARD, NOON, PACK, PLUG, write
from hypothesis import given
from hypothesis import strategies as st

from kb.base import pooling
from kb.bench.front import Bench
from kb.diagnosis import counts
from kb.diagnosis.counts import Ageing
from kb.diagnosis.knowledge import ShopKnowledge, Ways
from kb.index import taught
from kb.model import Confirmation

pytestmark = pytest.mark.shop("humming")


# Old jobs


def _confirmed(bench: Bench, *given: tuple[str, int]) -> None:
    """Jobs on one model, each with its age in days."""
    for number, (cause, age) in enumerate(given):
        closed = (NOON - timedelta(days=age)).strftime("%Y-%m-%dT%H:%M:%SZ")
        bench.jobs.confirm(
            Confirmation(cause, "Tern 13", unit=f"T-{number}", closed_at=closed)
        )


def _shares(bench: Bench) -> dict[str, float]:
    return {
        one.slug: one.within
        for one in bench.asking.search("no battery is listed", "Tern 13")
        .entries[0]
        .causes
    }


def test_without_a_half_life_all_jobs_count_alike(bench: Bench, clock: Clock) -> None:
    _confirmed(bench, (BOARD, 0), (BOARD, 900), (PLUG, 5000))
    before = bench.asking.search("no battery is listed", "Tern 13").entries

    write(bench, "half_life_days = 0\n")
    clock.now += timedelta(days=400)

    assert bench.asking.search("no battery is listed", "Tern 13").entries == before


def test_a_job_one_half_life_old_counts_half_and_is_shown_whole(bench: Bench) -> None:
    _confirmed(bench, (BOARD, 365), (BOARD, 730), (PLUG, 0))
    ageing = Ageing(365, NOON.date())

    with bench.shop.files.reading() as (index, _):
        causes = counts.confirmed(
            index.jobs.alike("Tern 13", by_day=True), ageing
        ).causes["no-battery"]
        entries = counts.confirmed(
            index.jobs.alike("Skua 14", by_day=True), ageing
        ).entries

    assert causes.here == {"light-board": 0.75, "plug": 1.0}
    assert causes.told.here == {"light-board": 2, "plug": 1}
    assert (entries.elsewhere, entries.told.elsewhere) == (
        {"no-battery": 1.75},
        {"no-battery": 3},
    )


def test_shown_counts_stay_whole_while_beliefs_follow_the_younger_jobs(
    bench: Bench,
) -> None:
    _confirmed(bench, *[(BOARD, 3000)] * 9, *[(PLUG, 3)] * 3)
    before = _shares(bench)

    bench.shop.kept_settings.set_half_life(365)

    after = _shares(bench)
    assert before["light-board"] > before["plug"]
    assert after["plug"] > after["light-board"]
    (entry, *_) = bench.asking.search("no battery is listed", "Tern 13").entries
    assert {cause.slug: cause.confirmed_here for cause in entry.causes} == {
        "plug": 3,
        "light-board": 9,
        "pack": 0,
    }
    assert entry.jobs_here == 12
    effect = bench.jobs.confirm(Confirmation(PLUG, "Tern 13")).effect
    assert effect == "this cause is now first on Tern 13: 4 of 13 here"


def test_what_other_models_tell_fades_too_where_a_history_has_taught_how_much_they_have_in_common(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pooling, "FEWEST_GROUPS", 1)
    monkeypatch.setattr(taught, "FIRST_STEP", 2)
    _confirmed(bench, (BOARD, 365), (BOARD, 365), (PLUG, 0))
    bench.shop.kept_settings.set_half_life(365)

    bench.asking.search("no battery is listed", "Skua 14")
    with bench.shop.files.reading() as (index, lexicon):
        ways = Ways(Ageing(365, NOON.date()))
        entry = index.entry("no-battery")
        assert entry is not None
        assert index.taught.pooling is not None
        found = ShopKnowledge(index, lexicon, "Skua 14", ways).shares(entry)
        told = {"light-board": (1 + 1 / 2) / 2, "plug": 1.0}
        odds = entry.odds()
        own = {cause: weight / sum(odds.values()) for cause, weight in odds.items()}
        expected = pooling.smoothed(own, told, index.taught.pooling.prior_jobs)

    assert {cause: found[cause] / 0.96 for cause in own} == pytest.approx(expected)


def test_a_new_day_is_seen_without_anything_else_changing(
    bench: Bench, clock: Clock
) -> None:
    _confirmed(bench, (BOARD, 0), (BOARD, 0))
    bench.shop.kept_settings.set_half_life(30)
    before = _shares(bench)["light-board"]

    clock.now += timedelta(days=30)
    after = _shares(bench)["light-board"]
    clock.now -= timedelta(days=30)

    assert after < before
    assert _shares(bench)["light-board"] == before


def test_a_retraction_counts_whatever_the_age(bench: Bench) -> None:
    bench.shop.kept_settings.set_half_life(100)
    _confirmed(bench, (PLUG, 50), (PACK, 200))
    before = bench.asking.search("no battery is listed", "Tern 13").entries
    wrong = bench.jobs.confirm(
        Confirmation(BOARD, "Tern 13", closed_at="2026-01-01T00:00:00Z")
    ).job
    assert bench.asking.search("no battery is listed", "Tern 13").entries != before

    bench.jobs.retract(wrong, "wrong machine")

    assert bench.asking.search("no battery is listed", "Tern 13").entries == before


@given(st.integers(0, 20_000), st.integers(1, 4000))
def test_a_half_life_more_halves_what_a_job_counts(age: int, half_life: int) -> None:
    ageing = Ageing(half_life, date(2026, 6, 30))

    def weight(days: int) -> float:
        return ageing.weight((ageing.today - timedelta(days=days)).isoformat())

    assert 0 <= weight(age) <= 1
    assert weight(age + half_life) == pytest.approx(weight(age) / 2)
    assert weight(age + 1) <= weight(age)
    assert Ageing(0, ageing.today).weight("2001-01-01") == 1.0
