"""Names ranked by an amount each has."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from kb.base.ranked import most_first


@given(st.dictionaries(st.text(max_size=3), st.integers(-3, 3), max_size=8))
def test_no_name_stands_before_one_with_a_larger_amount_nor_before_an_equal_one_of_an_earlier_name(
    amounts: dict[str, float],
) -> None:
    ranked = most_first(amounts)
    assert sorted(ranked) == sorted(amounts)
    for before, after in pairwise(ranked):
        assert amounts[before] > amounts[after] or (
            amounts[before] == amounts[after] and before < after
        )
