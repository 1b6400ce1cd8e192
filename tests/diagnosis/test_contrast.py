"""Contrast: signs tell only where a text holds both, and for one entry what they tell against another."""

from __future__ import annotations

from array import array

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.diagnosis.contrast import SIGNS_TRUST, gains, sign_evidence
from kb.index.postings import Posting


def stands(**counts: int) -> Posting:
    """A term that stands in entries by number, such as `e0=50`."""
    return Posting(sum(counts.values()), array("I", (int(name[1:]) for name in counts)), array("I", counts.values()))


def test_charges_but_will_not_start_speaks_for_the_entry_that_says_so_and_against_the_other() -> None:
    postings = {"s:CHARGE+": stands(e0=50), "s:CHARGE-": stands(e1=50), "s:START-": stands(e0=50)}

    told = gains(["s:CHARGE+", "s:START-"], postings, [0, 1, 2])

    assert told[0] > 0 > told[1]
    assert told[2] == 0
    by_hand = SIGNS_TRUST * (sign_evidence(50, 0, 0.5) + sign_evidence(50, 0, 55 / 60))
    assert told[0] == pytest.approx(by_hand)


def test_a_text_of_one_sign_tells_nothing() -> None:
    assert gains(["s:START-", "s:SCREEN-"], {"s:START-": stands(e0=50)}, [0]) == {}


@given(st.floats(0, 500), st.floats(0, 500), st.floats(0.05, 0.95), st.floats(0.1, 100))
def test_more_of_a_sign_in_an_entry_never_tells_less(same: float, other: float, usual: float, more: float) -> None:
    assert sign_evidence(same + more, other, usual) >= sign_evidence(same, other, usual) - 1e-12
