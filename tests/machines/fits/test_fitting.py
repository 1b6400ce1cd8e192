"""What fits: families of models against enumeration and published counts, and the evidence told before the figure."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from helpers.long import LONG
from helpers.trying import (
    WORLDS,
    Rule,
    by_families,
    by_families_if_linked,
    chain_product,
    foretell,
    joined_is_fits,
    tried_pairs_only,
)

from kb.machines.fits import Fitting, PartTry, chance, fitting
from kb.machines.fits.families import MISFIT, Try


def test_the_same_model_fits_until_tries_speak_against_it() -> None:
    assert chance([], "a", "a") == pytest.approx(1 - MISFIT)
    assert chance([("a", "b", "failed")] * 5, "a", "a") == pytest.approx(1 - MISFIT)
    assert (
        chance([("a", "a", "failed")], "a", "a")
        < 0.8
        < chance([("a", "a", "worked")] * 9, "a", "a")
    )
    assert chance([("a", "a", "failed")] * 9, "a", "b") == pytest.approx(0.25)


@pytest.mark.parametrize(
    ("tries", "alpha", "told"),
    [
        pytest.param(
            [("a", "b", "fitted")],
            3.0,
            "worked, failed or claimed, not 'fitted'",
            id="an unknown word",
        ),
        pytest.param([], 0.0, "must be above 0", id="no alpha"),
    ],
)
def test_bad_input_is_told_in_a_sentence(
    tries: list[Try], alpha: float, told: str
) -> None:
    with pytest.raises(ValueError, match=told):
        chance(tries, "a", "b", alpha)


def tries_of(*rows: str) -> list[PartTry]:
    """Tries written as `a b worked 2026-03-01 why`."""
    made = []
    for row in rows:
        giver, receiver, shown, at, *why = row.split()
        told = {"shown": shown, "at": at, "reason": " ".join(why)}
        made.append(PartTry(giver=giver, receiver=receiver, **told))  # type: ignore[arg-type]
    return made


def test_fits_is_said_only_after_a_direct_try_or_of_the_same_model() -> None:
    tries = tries_of(
        "a b worked 2026-03-01",
        "a b worked 2026-04-01",
        "b c worked 2026-05-01",
        "d c claimed 2026-05-02",
    )

    verdicts = {
        pair: fitting(tries, *pair).verdict
        for pair in ("ab", "aa", "ac", "ba", "dc", "ad", "ax")
    }

    assert verdicts == {
        "ab": "fits",
        "aa": "fits",
        "ac": "may fit",
        "ba": "may fit",
        "dc": "claimed",
        "ad": "may fit",
        "ax": "unknown",
    }
    assert fitting(tries, "b", "a").turned_round == tuple(tries[:2])


def test_evidence_is_told_with_its_times_its_last_day_and_its_chain() -> None:
    tries = tries_of(
        "a b worked 2026-04-01",
        "a b worked 2026-03-01",
        "b c worked 2026-05-01",
        "c d claimed 2026-05-02",
    )

    straight, far = fitting(tries, "a", "b"), fitting(tries, "a", "d")

    assert len(straight.worked) == 2
    assert straight.last is not None
    assert straight.last.at == "2026-04-01"
    assert (far.chain, far.weakest) == (("a", "b", "c", "d"), "claimed")
    assert far.chance == pytest.approx(
        chance([(t.giver, t.receiver, t.shown) for t in tries], "a", "d")
    )


@pytest.mark.parametrize("asked", ["ac", "ca"])
def test_a_failed_pair_always_shows_its_reason_and_never_the_figure_of_the_family(
    asked: str,
) -> None:
    tries = tries_of(
        "a c worked 2026-01-01",
        "a c failed 2026-03-01 ribbon too short",
        "a c failed 2026-04-01",
    )

    seen = fitting(
        [*tries, *tries_of("a b worked 2026-03-01", "b c worked 2026-05-01")], *asked
    )

    assert (seen.verdict, seen.reason, seen.chance) == (
        "did not fit",
        "ribbon too short",
        None,
    )
    assert (
        fitting(tries_of("a a failed 2026-03-01 connector"), "a", "a").verdict
        == "did not fit"
    )


def test_a_pair_that_nothing_links_is_told_as_one_of_which_nothing_is_known() -> None:
    tries = tries_of("a b worked 2026-03-01", "a c worked 2026-03-01")

    assert fitting(tries, "a", "x") == Fitting(
        giver="a", receiver="x", verdict="unknown", chance=chance([], "a", "x")
    )


def test_what_one_source_claims_again_and_again_is_one_claim() -> None:
    claim = PartTry(giver="a", receiver="b", shown="claimed", source="a parts list")

    once, thrice = fitting([claim], "a", "b"), fitting([claim] * 3, "a", "b")
    two = fitting(
        [
            claim,
            PartTry(giver="a", receiver="b", shown="claimed", source="a colleague"),
        ],
        "a",
        "b",
    )

    assert once.chance == thrice.chance == pytest.approx(0.682)
    assert two.chance is not None
    assert two.chance > 0.9


def mean(losses: Sequence[float]) -> float:
    return math.fsum(losses) / len(losses)


def test_families_foretell_the_next_try_better_than_any_simpler_rule() -> None:
    """150 kinds of part, 16 tries each; bars .58 over all and .42 for linked, untried pairs."""
    world = WORLDS["kinds differ"]
    ours = foretell(world, by_families, 150, seed=7)
    rivals = [foretell(world, rule, 150, seed=7, learning="none") for rule in RIVALS]

    assert mean(ours.losses) <= 0.58
    assert mean(ours.linked) <= 0.42
    assert mean(ours.losses) < min(mean(rival.losses) for rival in rivals) - 0.1
    assert mean(ours.linked) < min(mean(rival.linked) for rival in rivals) - 0.05


RIVALS: tuple[Rule, ...] = (joined_is_fits, chain_product, tried_pairs_only)


@pytest.mark.skipif(not LONG, reason="takes half a minute; BENCHLORE_LONG=1")
@pytest.mark.parametrize("name", WORLDS)
def test_families_win_in_shops_whose_families_are_made_otherwise_too(name: str) -> None:
    ours = foretell(WORLDS[name], by_families_if_linked, 150, seed=8)
    rivals = [
        foretell(WORLDS[name], rule, 150, seed=8, learning="none") for rule in RIVALS
    ]

    assert mean(ours.losses) < min(mean(rival.losses) for rival in rivals) - 0.03
    assert mean(ours.linked) < min(mean(rival.linked) for rival in rivals)


@pytest.mark.skipif(not LONG, reason="takes half a minute; BENCHLORE_LONG=1")
@pytest.mark.parametrize("name", ["kinds differ", "kinds alike"])
def test_what_is_said_comes_about_as_often_as_said(name: str) -> None:
    seen = foretell(WORLDS[name], by_families_if_linked, 300, seed=9)

    for count, said, came in seen.calibration():
        assert count < 90 or abs(said - came) < 0.1, (count, said, came)
