"""Strength of what is said before a part is tried: learned from what the shop's own tries showed."""

from __future__ import annotations

import pytest

from kb.machines.fits import Strength, chance, strengths
from kb.machines.fits.families import Try


def pairs(count: int, shown: str, kind: str = "x") -> list[Try]:
    """So many tries of pairs that nothing links."""
    return [(f"{kind}{number}", f"{kind}{number}'", shown) for number in range(count)]  # type: ignore[misc]


def test_a_kind_that_often_went_across_is_told_from_one_that_did_not() -> None:
    learned = strengths(
        {
            "charger": pairs(12, "worked"),
            "battery": pairs(12, "failed"),
            "panel": pairs(1, "worked"),
        }
    )

    # Over all kinds 13 of 25 first tries worked, so 14 / 28; this kind's own twelve against five of those.
    assert learned["charger"].alpha == round((12 + 5) / (12 + 2.5) - 1, 1) == 0.2
    assert learned["battery"].alpha == round((12 + 5) / 2.5 - 1, 1) == 5.8
    assert learned["panel"] == Strength()


def test_few_tries_teach_nothing() -> None:
    assert strengths({"charger": pairs(9, "worked")})["charger"] == Strength(
        alpha=3.0, claim=7.0
    )
    assert strengths({"charger": pairs(10, "worked")})["charger"].alpha < 1.0
    assert strengths({}) == {}


def test_claims_that_came_true_count_for_more_and_those_that_did_not_for_less() -> None:
    claims = pairs(10, "claimed")

    true, false = (
        strengths({"fan": [*claims, *pairs(10, shown)]})["fan"].claim
        for shown in ("worked", "failed")
    )
    assert true == round(3 * (10 + 2.1) / 0.9, 1)
    assert false == round(3 * 2.1 / (10 + 0.9), 1)
    assert strengths({"fan": [*claims, *pairs(9, "worked")]})["fan"].claim == 7.0


def test_a_chance_asked_for_without_a_strength_is_the_usual_one() -> None:
    assert (
        chance([], "a", "b") == chance([], "a", "b", alpha=3.0) == pytest.approx(0.25)
    )
