"""Pooled counts: what one shop may, whatever it sends, and that the same jobs make the same file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.base.pooling import PRIORS, USUAL_PRIOR, smoothed
from kb.index.elsewhere import (
    CAUSES_ALIKE,
    OFTEN_ALIKE,
    PooledCounts,
    SheetElsewhere,
    read,
)
from kb.office.pooled import SharedCount, pooled

TODAY = date(2026, 11, 30)
CAUSES = ("plug", "pack", "board")
WEIGHTS = {"plug": 0.4, "pack": 0.4, "board": 0.2}
Rows = Sequence[SharedCount]


def shops(number: int, dice: Random, jobs: int = 40) -> list[SharedCount]:
    """So many shops that have the pack in two of three jobs, on two models and two sheets."""
    rows: Counter[tuple[str, str, str, str]] = Counter()
    for shop in range(number):
        for _ in range(jobs):
            cause = dice.choices(CAUSES, (2, 9, 1))[0]
            rows[
                f"shop {shop}",
                dice.choice(("Tern 13", "Skua 14")),
                dice.choice(("no-battery", "keys-dead")),
                cause,
            ] += 1
    return [SharedCount(*place, jobs) for place, jobs in rows.items()]


def believed(counts: PooledCounts, entry: str = "no-battery") -> dict[str, float]:
    """The shares of causes for a shop without jobs of its own."""
    sheet = counts.sheets.get(entry)
    return smoothed(WEIGHTS, sheet.causes if sheet else {}, USUAL_PRIOR)


def test_jobs_are_counted_by_sheet_cause_and_model_over_all_shops() -> None:
    rows = [
        SharedCount("a", "Tern 13", "no-battery", "plug", 4),
        SharedCount("a", " TERN 13", "no-battery", "no-battery/pack", 1),
        SharedCount("b", "Skua 14", "no-battery", "pack", 1),
        SharedCount("b", "", "keys-dead", "ribbon", 2),
        SharedCount("c", "Skua 14", "keys-dead", "ribbon", 0),
    ]
    found = pooled(rows, TODAY)

    assert (found.made, found.shops, found.jobs) == ("2026-11-30", 2, 8)
    sheet = found.sheets["no-battery"]
    assert (sheet.shops, sheet.jobs) == (2, 6)
    # five jobs of one shop tell as much as 5 * 9 / 13 of as many shops
    assert sheet.causes == pytest.approx(
        {"plug": 4 * 9 / 13, "pack": 9 / 13 + 1}, abs=1e-4
    )
    assert sheet.often == pytest.approx(5 * 33 / 37 + 1, abs=1e-4)
    assert sheet.models["tern 13"].causes == pytest.approx(
        {"plug": 4 * 9 / 13, "pack": 9 / 13}, abs=1e-4
    )
    assert sheet.models["skua 14"].causes == {"pack": 1.0}
    assert found.sheets["keys-dead"].models == {}


def test_the_same_jobs_in_any_order_make_the_same_file_to_the_byte() -> None:
    rows = shops(6, Random("order"))
    first = pooled(rows, TODAY).to_json()

    assert pooled(rows[::-1], TODAY).to_json() == first
    assert read(first.encode()).to_json() == first


def on_models(sheet: SheetElsewhere) -> float:
    """What is told of a sheet on all of its models."""
    return sum(sum(had.causes.values()) for had in sheet.models.values())


anything = st.lists(
    st.builds(
        SharedCount,
        shop=st.just("hostile"),
        model=st.sampled_from(("Tern 13", "Skua 14", "", "Other 9")),
        entry=st.sampled_from(("no-battery", "keys-dead", "made-up")),
        cause=st.sampled_from((*CAUSES, "made-up")),
        jobs=st.integers(-5, 10**9),
    ),
    max_size=8,
)


@settings(max_examples=60, deadline=None)
@given(sent=anything, others=st.integers(0, 12))
def test_whatever_one_shop_sends_it_moves_shares_by_no_more_than_one_shop_may(
    sent: Rows, others: int
) -> None:
    honest = shops(others, Random(f"honest {others}"), jobs=20)
    without, with_it = pooled(honest, TODAY), pooled([*honest, *sent], TODAY)
    one = CAUSES_ALIKE + 1
    told = sum(without.sheets["no-battery"].causes.values()) if others else 0.0
    may = one / (one + USUAL_PRIOR + told)

    before, after = believed(without), believed(with_it)
    assert max(abs(after[cause] - before[cause]) for cause in WEIGHTS) <= may + 1e-4
    for entry, sheet in with_it.sheets.items():
        held = without.sheets.get(entry)
        assert sheet.often - (held.often if held else 0.0) <= OFTEN_ALIKE + 1 + 1e-3
        assert PRIORS[0] <= sheet.strength <= PRIORS[-1]
        assert on_models(sheet) - (on_models(held) if held else 0.0) <= one + 1e-2
    assert read(with_it.to_json().encode()) == with_it


def test_a_million_false_jobs_move_what_ten_shops_know_by_less_than_a_tenth() -> None:
    honest = shops(9, Random("ten"), jobs=80)
    false = [SharedCount("hostile", "Tern 13", "no-battery", "board", 1_000_000)]
    alone, before, after = (
        believed(pooled(rows, TODAY)) for rows in (false, honest, [*honest, *false])
    )

    assert before["pack"] > 0.6
    assert 0.05 < after["board"] - before["board"] < 0.1
    assert after["pack"] > 0.57
    assert alone["board"] - WEIGHTS["board"] < 0.47


def test_shops_that_are_alike_are_believed_like_more_jobs_than_shops_that_differ() -> (
    None
):
    dice = Random("differ")
    alike = shops(20, dice)
    apart = [
        SharedCount(f"shop {number}", "Tern 13", "no-battery", cause, 10)
        for number, cause in enumerate(dice.choices(CAUSES, k=20))
    ]

    assert pooled(alike, TODAY).sheets["no-battery"].strength > 20
    assert pooled(apart, TODAY).sheets["no-battery"].strength == PRIORS[0]
