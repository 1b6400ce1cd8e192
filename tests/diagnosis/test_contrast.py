"""Contrast: signs tell only where a text holds both, and for one entry what they tell against another."""

from __future__ import annotations

import math
from array import array

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.diagnosis.contrast import SIGNS_TRUST, gains, gains_by_the_well, sign_evidence
from kb.index.postings import Posting


def stands(**counts: int) -> Posting:
    """A term that stands in entries by number, such as `e0=50`."""
    return Posting(
        sum(counts.values()),
        array("I", (int(name[1:]) for name in counts)),
        array("I", counts.values()),
    )


def test_charges_but_will_not_start_speaks_for_the_entry_that_says_so_and_against_the_other() -> (
    None
):
    postings = {
        "s:CHARGE+": stands(e0=50),
        "s:CHARGE-": stands(e1=50),
        "s:START-": stands(e0=50),
    }

    told = gains(["s:CHARGE+", "s:START-"], postings, [0, 1, 2])

    assert told[0] > 0 > told[1]
    assert told[2] == 0
    by_hand = SIGNS_TRUST * (sign_evidence(50, 0, 0.5) + sign_evidence(50, 0, 55 / 60))
    assert told[0] == pytest.approx(by_hand)


def test_a_text_of_one_sign_tells_nothing() -> None:
    assert gains(["s:START-", "s:SCREEN-"], {"s:START-": stands(e0=50)}, [0]) == {}


@given(st.floats(0, 500), st.floats(0, 500), st.floats(0.05, 0.95), st.floats(0.1, 100))
def test_more_of_a_sign_in_an_entry_never_tells_less(
    same: float, other: float, usual: float, more: float
) -> None:
    assert (
        sign_evidence(same + more, other, usual)
        >= sign_evidence(same, other, usual) - 1e-12
    )


def test_what_is_said_to_be_well_speaks_for_entries_that_say_so_and_against_those_where_it_fails() -> (
    None
):
    """By hand: of 140 tenths under both signs of the fan 30 are well, so that 35 of 150 are usual."""
    postings = {
        "h:FAN": stands(e0=20, e1=4, e3=6),
        "s:FAN+": stands(e0=30),
        "s:FAN-": stands(e1=46, e2=60, e3=4),
    }

    told = gains_by_the_well(["FAN", "FAN"], postings, [0, 1, 2, 3, 4])

    usual = 35 / 150
    assert told == pytest.approx(
        {
            0: 0.75 * math.log((20 + 50 * usual) / (80 * usual)),
            1: 0.75 * math.log((4 + 50 * usual) / (96 * usual)),
            2: 0.75 * math.log((0 + 50 * usual) / (110 * usual)),
            # never less than none fail
            3: 0.75 * math.log((6 + 50 * usual) / (56 * usual)),
            4: 0.0,
        }
    )
    assert told[0] > 0 > told[1] > told[2]


def test_a_thing_that_is_nearly_always_well_is_not_taken_for_always_well() -> None:
    postings = {"h:FAN": stands(e0=500), "s:FAN+": stands(e0=500, e1=10)}

    told = gains_by_the_well(["FAN"], postings, [0, 1])

    assert told[0] == pytest.approx(0.75 * math.log((500 + 45) / (550 * 0.9)))
    assert told[1] == pytest.approx(0.75 * math.log(45 / (60 * 0.9)))
    assert gains_by_the_well(["FAN"], {}, [0]) == {0: 0.0}
