"""Shares of machines that fail a line: the two-level formula by hand, and what complaints may and may not move."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.machines.checkout.shares import Looks, failing, leaning
from kb.model import Weight


@pytest.mark.parametrize(
    ("word", "elsewhere", "here", "share"),
    [
        ("often", Looks(), Looks(), 0.12),
        ("rare", Looks(), Looks(), 0.015),
        ("sometimes", Looks(5, 80), Looks(), 0.06),
        ("sometimes", Looks(5, 80), Looks(3, 12), (3 + 25 * 0.06) / 37),
        ("rare", Looks(), Looks(7, 88), (7 + 25 * 0.015) / 113),
    ],
)
def test_shares_of_failing_by_hand(
    word: Weight, elsewhere: Looks, here: Looks, share: float
) -> None:
    """(bad + 20·word) / (seen + 20) elsewhere, then (bad + 25·that) / (seen + 25) here."""
    assert failing(word, elsewhere, here) == pytest.approx(share)


@given(st.integers(0, 200), st.integers(0, 200), st.integers(0, 50), st.integers(0, 50))
def test_one_more_that_failed_never_lowers_the_share(
    bad: int, more: int, here: int, others: int
) -> None:
    elsewhere = Looks(bad, bad + more)

    before = failing("sometimes", elsewhere, Looks(here, here + others))

    assert 0 < before < 1
    assert failing("sometimes", elsewhere, Looks(here + 1, here + others + 1)) > before


@pytest.mark.parametrize("shown", [Looks(3, 2), Looks(-1, 2)])
def test_more_bad_ones_than_were_seen_are_refused(shown: Looks) -> None:
    with pytest.raises(ValueError, match="is no count; count each machine once"):
        failing("rare", shown)


def test_a_word_that_is_none_is_refused() -> None:
    with pytest.raises(
        ValueError,
        match="seldom is no word for how often a line fails; write one of often, sometimes",
    ):
        failing("seldom")  # type: ignore[arg-type]


@given(st.integers(0, 60), st.integers(0, 60), st.integers(0, 900), st.integers(0, 900))
def test_complaints_move_what_is_expected_and_never_more_than_twice(
    bad: int, good: int, others: int, fine: int
) -> None:
    moved = leaning(Looks(bad, bad + good), Looks(others, others + fine))

    assert 0.5 <= moved <= 2.0
    assert (
        leaning(Looks(bad + 1, bad + good + 1), Looks(others, others + fine)) >= moved
    )
    assert failing("rare", leaning=moved) == pytest.approx(0.015 * moved)


def test_many_check_outs_outweigh_any_complaints() -> None:
    seen = Looks(10, 200)

    assert failing("rare", seen, seen, leaning=2.0) == pytest.approx(
        failing("rare", seen, seen), abs=0.006
    )
