"""What a donor is still good for: worked figures, laws, and every order of trying against the one given."""

from __future__ import annotations

from itertools import permutations
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.machines.checkout.shares import Looks
from kb.machines.donors import (
    PartOfDonor,
    Source,
    Suspicion,
    after_line,
    good,
    in_order,
    unnoticed,
)

shares = st.floats(0.0, 1.0)


def test_a_part_is_as_good_as_belief_unnoticed_faults_and_its_line_say() -> None:
    """(1 - .3 - .2 · .1) (1 - .05) = .646; odds .646 / .354 · .99 / .10 = 18.066 give .94755 (by hand)."""
    suspected = PartOfDonor(
        part="panel",
        suspicions=(
            Suspicion(belief=0.3, parts=("panel",)),
            Suspicion(belief=0.4, parts=("board",)),
        ),
        unlisted=0.2,
        used=0.1,
        line=True,
    )

    assert good(suspected) == pytest.approx(0.94755, abs=1e-5)


def test_a_fix_by_one_part_or_the_other_suspects_both_alike() -> None:
    doubt = (Suspicion(belief=0.5, parts=("charging board", "mainboard")),)

    assert good(PartOfDonor(part="charging board", suspicions=doubt)) == pytest.approx(
        0.7125
    )
    assert good(PartOfDonor(part="mainboard", suspicions=doubt)) == pytest.approx(
        0.7125
    )
    assert good(PartOfDonor(part="panel", suspicions=doubt)) == pytest.approx(0.95)


def test_a_confirmed_cause_leaves_nothing_of_its_part_and_a_taken_part_is_gone() -> (
    None
):
    dead = Suspicion(belief=1.0, parts=("panel",), spreads=("panel", "keyboard"))

    assert good(PartOfDonor(part="panel", suspicions=(dead,), line=True)) == 0.0
    assert good(PartOfDonor(part="keyboard", suspicions=(dead,))) == pytest.approx(
        0.475
    )
    assert good(PartOfDonor(part="board", taken=True)) == 0.0


def test_beliefs_that_are_no_shares_are_refused() -> None:
    with pytest.raises(ValueError, match="add up to 1 at most"):
        good(
            PartOfDonor(
                part="panel", suspicions=(Suspicion(belief=0.7), Suspicion(belief=0.6))
            )
        )


@given(shares, shares)
def test_a_good_line_never_lowers_and_a_bad_one_never_raises_the_chance(
    chance: float, other: float
) -> None:
    assert after_line(chance, False) <= chance + 1e-12
    assert after_line(chance, True) >= chance - 1e-12
    assert (after_line(chance, True) <= after_line(other, True)) or chance >= other


def test_what_fails_unnoticed_is_counted_on_the_model_and_leans_on_all_others() -> None:
    """(2 + 12 · (6 + 20 · .05) / (60 + 20)) / (10 + 12) = .13864 (by hand)."""
    assert unnoticed(Looks(2, 10), Looks(6, 60)) == pytest.approx(0.13864, abs=1e-5)


def test_no_other_order_of_donors_takes_fewer_minutes_until_one_serves() -> None:
    rng = Random(3)
    for _ in range(40):
        sources = [
            Source(
                tag=tag,
                fits=rng.random(),
                good=rng.random(),
                minutes=rng.choice([5, 10, 20, 40]),
            )
            for tag in "abcde"
        ]

        found = in_order(sources)

        assert found.expected_minutes == pytest.approx(
            min(minutes_of(order) for order in permutations(sources))
        )


def minutes_of(order: tuple[Source, ...]) -> float:
    reached, minutes = 1.0, 0.0
    for source in order:
        minutes += reached * source.minutes
        reached *= 1 - source.fits * source.good
    return minutes
