"""Prices of minutes and cents that fit what is worth doing into what there is."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.piles import doubted, drawn, needy

from kb.machines.pile import Pile, Remedy, Waiting
from kb.machines.pile.prices import Prices, _parts_of_work, priced, rate


@pytest.mark.parametrize("machines", [32, 100])
def test_prices_fit_what_is_worth_doing_into_the_hours(machines: int) -> None:
    pile = drawn(machines, "short of hours", 2).pile

    prices = [
        priced(replace(pile, minutes=share * pile.minutes)).minute
        for share in (0.5, 1.0, 100.0)
    ]

    assert prices[0] > prices[1] > prices[2] == 0.0


def plain(tag: str, look: float, minutes: float) -> Waiting:
    """A machine with one likely cause and no part to it."""
    return Waiting(
        tag=tag,
        look=look,
        remedies=(Remedy(cause="setting", belief=0.9, minutes=minutes),),
    )


def test_a_need_that_nobody_can_serve_takes_no_minutes_from_others() -> None:
    unseen = (plain("P7-1", 10, 10), plain("P7-2", 10, 20))
    just_enough = 10 + 9 + 10 + 18

    prices = priced(Pile(waiting=(needy("P7-3", "fan"), *unseen), minutes=just_enough))

    assert prices.minute == 0.0


def test_short_cents_go_to_the_cheaper_of_two_parts() -> None:
    machines = (
        needy("P7-1", "fan"),
        needy("P7-2", "panel"),
        plain("P7-3", 10, 10),
        plain("P7-4", 40, 60),
    )
    pile = Pile(
        waiting=machines,
        minutes=45,
        cents=1600,
        prices={"fan": 1400, "panel": 5500, "jack": 100},
    )

    prices = priced(pile)

    fan, panel = machines[0].remedies[0], machines[1].remedies[0]
    assert prices.worth(fan) > prices.minute * fan.minutes > 0.0
    assert prices.worth(panel) < prices.minute * panel.minutes


def test_a_part_that_may_not_be_the_cause_takes_all_its_minutes_and_cents_for_what_it_may_mend() -> (
    None
):
    prices = Prices(sold={"fan": 1400}, met={"fan": 0.0}, cent=0.0001)
    (first, then) = _parts_of_work(replace(doubted(), look=60.0), prices)

    assert (first.minutes, first.cents) == (20, 1400)
    assert first.rate == pytest.approx((0.7 - 0.14) / 20)
    assert not then.first
    assert [then.minutes, then.rate] == pytest.approx([20.0, 0.01])
    assert rate(replace(doubted(), look=0.1), Prices()) > 0.7 / 20
    dear = Prices(sold={"fan": 1400}, met={"fan": 0.5}, cent=0.0006)
    assert [dear.bought(doubted().remedies[0], mends) for mends in (0.7, 1.0)] == [
        0.0,
        0.5,
    ]
    assert (
        rate(doubted(), Prices(sold={"fan": 1400}, met={"fan": 0.0}, cent=0.0006))
        == 0.0
    )
