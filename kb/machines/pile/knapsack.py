"""A knapsack with two limits, minutes and cents, filled with shares of loads; and what one more of each would bring."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

#: Halvings of the price of a cent.
_HALVINGS = 30
#: Stands for no time at all in a ratio.
_NO_TIME = 1e-9


@dataclass(frozen=True, slots=True)
class Load:
    """What may go into the knapsack, wholly or in part: machines it is worth, minutes and cents it takes whole."""

    worth: float
    minutes: float
    cents: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """A knapsack as full as pays: worth, minutes and cents, the share of each load, and the prices of both limits."""

    worth: float
    minutes: float
    cents: float
    minute_price: float
    cent_price: float
    shares: tuple[float, ...]


def filled(loads: Sequence[Load], minutes: float, cents: float) -> Filled:
    """The most worth that fits into both limits.

    Without a limit on cents: by worth a minute (Dantzig 1957, from memory). With one: by (worth - beta · cents) a
    minute, beta the price of a cent, raised until the cents suffice; what is just too much at one beta and just too
    little at the next are mixed, which is the optimum of this linear programme (weak duality shows it).
    `minute_price` and `cent_price` are what one more of each would bring.

    >>> loads = [Load(1.0, 30.0), Load(1.0, 20.0, cents=1500), Load(1.0, 60.0)]
    >>> found = filled(loads, minutes=80, cents=9999)
    >>> round(found.worth, 6), found.shares, round(found.minute_price, 6)
    (2.5, (1.0, 1.0, 0.5), 0.016667)
    >>> found = filled(loads, minutes=80, cents=750)
    >>> round(found.worth, 6), [round(share, 6) for share in found.shares], round(found.cent_price, 6)
    (2.166667, [1.0, 0.5, 0.666667], 0.000444)
    """
    easy = _by_the_minute(loads, minutes, 0.0)
    if easy.cents <= cents + 1e-9:
        return easy
    low, high = (
        0.0,
        max(load.worth / load.cents for load in loads if load.cents > 0) * 1.01,
    )
    dear, cheap = easy, _by_the_minute(loads, minutes, high)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        tried = _by_the_minute(loads, minutes, middle)
        if tried.cents > cents:
            low, dear = middle, tried
        else:
            high, cheap = middle, tried
    return _mixed(dear, cheap, cents)


def _by_the_minute(loads: Sequence[Load], minutes: float, beta: float) -> Filled:
    """The minutes filled by worth a minute, each cent paid for at that price; the limit on cents is not looked at."""
    ratios = [
        (load.worth - beta * load.cents) / (load.minutes or _NO_TIME) for load in loads
    ]
    shares = [0.0] * len(loads)
    left, cents, worth, price = minutes, 0.0, 0.0, 0.0
    for place in sorted(range(len(loads)), key=ratios.__getitem__, reverse=True):
        if ratios[place] <= 0:
            break
        load = loads[place]
        share = 1.0 if load.minutes <= left else max(left, 0.0) / load.minutes
        shares[place] = share
        worth, cents, left = (
            worth + share * load.worth,
            cents + share * load.cents,
            left - share * load.minutes,
        )
        if share < 1.0:
            price = ratios[place]
            break
    return Filled(
        worth=worth,
        minutes=minutes - left,
        cents=cents,
        minute_price=price,
        cent_price=beta,
        shares=tuple(shares),
    )


def _mixed(dear: Filled, cheap: Filled, cents: float) -> Filled:
    """As much of the dear filling as the cents allow, the rest of the cheap one."""
    part = (cents - cheap.cents) / (dear.cents - cheap.cents)
    return Filled(
        worth=part * dear.worth + (1 - part) * cheap.worth,
        minutes=part * dear.minutes + (1 - part) * cheap.minutes,
        cents=cents,
        minute_price=cheap.minute_price,
        cent_price=cheap.cent_price,
        shares=tuple(
            part * a + (1 - part) * b
            for a, b in zip(dear.shares, cheap.shares, strict=True)
        ),
    )
