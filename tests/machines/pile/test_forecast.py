"""The forecast of a pile: intervals against what then happens on simulated lots."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.long import LONG
from helpers.piles import REGIMES, drawn, expected_of, play, three_machines, with_doubts

from kb.machines.pile import Pile, Remedy, Waiting, next_step
from kb.machines.pile.forecast import foretold, whole_range
from kb.machines.pile.policy import by_prices


def test_a_range_holds_as_nearly_eight_in_ten_as_whole_machines_can() -> None:
    assert whole_range([5] * 10).low == whole_range([5] * 10).high == 5
    assert (whole_range(range(10)).low, whole_range(range(10)).high) == (1, 8)
    assert (whole_range([3, *[4] * 8, 9]).low, whole_range([3, *[4] * 8, 9]).high) == (
        4,
        4,
    )


@pytest.mark.parametrize("regime", REGIMES)
def test_forecasts_hold_eight_times_in_ten(regime: str) -> None:
    """Between 76 and 88 % of simulated lots, in the long version; the short one sees that nothing is far off."""
    lots = [drawn(12, regime, seed) for seed in range(4000, 4300 if LONG else 4008)]
    held, bias = 0, 0.0
    for hidden in lots:
        said = foretold(hidden.pile, plays=30).working
        came = len(play(hidden, by_prices).working)
        held += said.low <= came <= said.high
        bias += (came - said.expected) / len(lots)

    assert abs(bias) < (0.15 if LONG else 0.6)
    low, high = (0.76, 0.88) if LONG else (0.6, 1.0)
    assert low <= held / len(lots) <= high


@pytest.mark.skipif(not LONG, reason="takes five minutes; BENCHLORE_LONG=1")
@pytest.mark.parametrize("regime", REGIMES)
def test_forecasts_of_larger_lots_hold_too(regime: str) -> None:
    lots = [drawn(32, regime, seed) for seed in range(5000, 5060)]
    ranges = [foretold(hidden.pile, plays=30).working for hidden in lots]
    came = [len(play(hidden, next_step).working) for hidden in lots]
    held = sum(
        said.low <= works <= said.high for said, works in zip(ranges, came, strict=True)
    )

    assert 0.68 <= held / len(lots) <= 0.95  # 60 lots leave five points of doubt


def test_a_forecast_says_how_many_when_and_is_the_same_each_time() -> None:
    pile = drawn(12, "short of hours", 3).pile

    said = foretold(pile, plays=8, seed=5)

    assert said == foretold(pile, plays=8, seed=5)
    assert said != foretold(pile, plays=8, seed=6)
    counts = [count for _, count in said.by_then]
    assert counts == sorted(counts)
    assert counts[-1] == pytest.approx(said.working.expected)
    assert said.by_then[-1][0] == pile.minutes
    assert (
        said.minutes.low <= said.minutes.expected <= said.minutes.high <= pile.minutes
    )


def test_a_pile_without_doubt_is_foretold_without_doubt() -> None:
    sure = Waiting(
        tag="P7-1", look=0, remedies=(Remedy(cause="setting", belief=1.0, minutes=12),)
    )

    said = foretold(
        Pile(waiting=(sure, replace(sure, tag="P7-2")), minutes=60), plays=3
    )

    assert (said.working.low, said.working.expected, said.working.high) == (2, 2.0, 2)
    assert said.minutes.high == 24.0


def test_no_plays_are_refused() -> None:
    with pytest.raises(ValueError, match="0 plays foretell nothing"):
        foretold(Pile(waiting=(), minutes=60), plays=0)


def test_a_forecast_of_doubtful_parts_is_what_can_be_expected_of_the_same_steps() -> (
    None
):
    """Played four hundred times against everything that may show, counted exactly; within three standard errors."""
    for seed in (1, 3, 5):
        pile = with_doubts(three_machines(seed))

        said = foretold(pile, plays=400).working.expected

        assert said == pytest.approx(
            expected_of(by_prices, pile), abs=3 * 1.0 / 400**0.5
        )
