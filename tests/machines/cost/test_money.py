"""Sums of money as they are typed."""

from __future__ import annotations

import pytest

from kb.base.trouble import Refusal
from kb.machines.cost.money import cents_of


@pytest.mark.parametrize("text", ["", "1.234", "1e5", "-", "one", "12.5.0", "٣"])
def test_what_is_no_sum_of_money_is_refused(text: str) -> None:
    with pytest.raises(Refusal, match="is no sum of money"):
        cents_of(text, "EUR")
