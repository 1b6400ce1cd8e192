"""Prices of a minute and of a cent on a pile: what is worth doing at them just fits the hours and the money left."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from kb.machines.pile.waiting import Pile, Remedy, Waiting, offers

#: Times that prices and the shares of needs met by donors are set by each other.
_ROUNDS = 3
#: Halvings of the price of a cent.
_HALVINGS = 14
#: Works of machines that are remembered: those of a play of some hundred machines.
_REMEMBERED = 8192
#: Stands for no time at all in a ratio.
_NO_TIME = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What one minute and one cent more would bring in working machines, and the share of each pool's needs met.

    `met` is the share that donors are expected to serve, 1 where it is not named; `sold` are the cents a piece costs.
    """

    minute: float = 0.0
    cent: float = 0.0
    met: Mapping[str, float] = field(default_factory=dict)
    sold: Mapping[str, int] = field(default_factory=dict)

    def bought(self, remedy: Remedy, mends: float = 1.0) -> float:
        """The share of a remedy's needs for which its part would be bought, if it mends so likely."""
        if remedy.part not in self.sold or self.cent * self.sold[remedy.part] >= mends:
            return 0.0
        return 1 - self.met.get(remedy.part, 1.0)

    def worth(self, remedy: Remedy, mends: float = 1.0) -> float:
        """The machines that a remedy brings once its part is paid for: what donors do not serve is bought or left."""
        if not remedy.part:
            return mends
        price = mends
        if remedy.part in self.sold:
            price = min(self.cent * self.sold[remedy.part], mends)
        return mends - (1 - self.met.get(remedy.part, 1.0)) * price

    def served(self, remedy: Remedy, mends: float = 1.0) -> float:
        """The share of a remedy's needs for which there is a part at all."""
        if not remedy.part:
            return 1.0
        return self.bought(remedy, mends) + self.met.get(remedy.part, 1.0)


@dataclass(frozen=True, slots=True)
class _Work:
    """Work that may be chosen: machines it brings a minute, its minutes and cents, and the machine it belongs to."""

    rate: float
    minutes: float
    cents: float
    tag: str
    first: bool


def priced(pile: Pile) -> Prices:
    """The prices at which what pays to be done takes the minutes and cents left, no more.

    Machines that do not pay at these prices lend their parts, so that donors meet the needs to the share that supply
    bears to need; the rest is bought or left. Both are set by each other, a few times over. Where all that can be
    done fits the minutes, a minute costs nothing, and so does all else: there is time to look before anything scarce
    is spent.
    """
    prices = Prices(sold=pile.prices)
    for _ in range(_ROUNDS):
        prices, chosen = _at_these_shares(pile, prices.met)
        if prices.minute == 0.0:
            return Prices(sold=pile.prices)
        prices = Prices(
            minute=prices.minute,
            cent=prices.cent,
            met=_met(pile, chosen, prices.met),
            sold=pile.prices,
        )
    return prices


def rate(machine: Waiting, prices: Prices) -> float:
    """The most machines a minute that looking at this one, and repairing what then pays best, can be expected to bring.

    >>> quick = Remedy(cause="setting", belief=0.5, minutes=5)
    >>> slow = Remedy(cause="board", belief=0.5, minutes=200)
    >>> round(rate(Waiting(tag="P7-12", look=7.5, remedies=(quick, slow)), Prices()), 9)
    0.05
    """
    return next((work.rate for work in _works(machine, prices)), 0.0)


def _at_these_shares(
    pile: Pile, met: Mapping[str, float]
) -> tuple[Prices, frozenset[str]]:
    """The prices while donors meet these shares, and the tags of the machines worth a first step at them."""

    def at(cent: float) -> tuple[Prices, float, frozenset[str]]:
        return _filled(pile, Prices(cent=cent, met=met, sold=pile.prices))

    prices, cents, chosen = at(0.0)
    if cents > pile.cents and prices.minute > 0.0:
        low, high = 0.0, 1.0 / max(min(pile.prices.values()), 1)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            low, high = (middle, high) if at(middle)[1] > pile.cents else (low, middle)
        prices, _, chosen = at(high)
    return prices, chosen


def _filled(pile: Pile, prices: Prices) -> tuple[Prices, float, frozenset[str]]:
    """The price of a minute at these other prices, the cents then spent, the machines worth a first step."""
    works = [work for machine in pile.waiting for work in _works(machine, prices)]
    works.sort(key=lambda work: (-work.rate, work.tag))
    minute, left, cents, chosen = 0.0, pile.minutes, 0.0, set()
    for work in works:
        if work.minutes > left:
            minute = work.rate
            break
        left, cents = left - work.minutes, cents + work.cents
        if work.first:
            chosen.add(work.tag)
    return (
        Prices(minute=minute, cent=prices.cent, met=prices.met, sold=prices.sold),
        cents,
        frozenset(chosen),
    )


def _works(machine: Waiting, prices: Prices) -> tuple[_Work, ...]:
    """A machine's work in parts of falling rate: the look with the repairs that raise its rate, then each other one.

    It hangs on the price of a cent and on what its own pools meet and cost, which few steps of a play change.
    """
    met = tuple([prices.met.get(pool, 1.0) for pool in machine.wants])
    sold = tuple([prices.sold.get(pool) for pool in machine.wants])
    return _works_at(machine, prices.cent, met, sold)


@lru_cache(maxsize=_REMEMBERED)
def _works_at(
    machine: Waiting, cent: float, met: tuple[float, ...], sold: tuple[int | None, ...]
) -> tuple[_Work, ...]:
    """The same, `met` and `sold` in the order of the pools that the machine wants."""
    known = {
        pool: cents
        for pool, cents in zip(machine.wants, sold, strict=True)
        if cents is not None
    }
    prices = Prices(
        cent=cent, met=dict(zip(machine.wants, met, strict=True)), sold=known
    )
    return tuple(_parts_of_work(machine, prices))


def _parts_of_work(machine: Waiting, prices: Prices) -> Iterator[_Work]:
    if machine.ready:
        yield from _tried_first(machine, prices)
    else:
        yield from _looked_at(machine.tag, machine.look, machine.remedies, prices)


def _looked_at(
    tag: str, look: float, remedies: Sequence[Remedy], prices: Prices
) -> Iterator[_Work]:
    """The look with the repairs that raise its rate, then each other one."""
    repairs = []
    for remedy in remedies:
        worth, bought, served = (
            prices.worth(remedy),
            prices.bought(remedy),
            prices.served(remedy),
        )
        if worth > 0 and served > 0:
            minutes = max(remedy.belief * remedy.minutes * served, _NO_TIME)
            cents = remedy.belief * bought * prices.sold.get(remedy.part, 0)
            repairs.append((remedy.belief * worth / minutes, minutes, cents))
    repairs.sort(reverse=True)
    worth, minutes, cents, first = 0.0, look, 0.0, True
    for own_rate, longer, dearer in repairs:
        if worth and own_rate * minutes < worth:
            yield _Work(worth / minutes, minutes, cents, tag, first)
            worth, minutes, cents, first = 0.0, 0.0, 0.0, False
        worth, minutes, cents = (
            worth + own_rate * longer,
            minutes + longer,
            cents + dearer,
        )
    if repairs:
        yield _Work(worth / minutes, minutes, cents, tag, first)


def _tried_first(machine: Waiting, prices: Prices) -> Iterator[_Work]:
    """The repair that is to be tried first, with what follows if it was in vain where that raises its rate."""
    remedy = machine.remedies[0]
    mends = remedy.belief
    worth, served = prices.worth(remedy, mends), prices.served(remedy, mends)
    if worth <= 0 or served <= 0:
        return
    minutes = max(remedy.minutes * served, _NO_TIME)
    cents = prices.bought(remedy, mends) * prices.sold.get(remedy.part, 0)
    further = deque(
        _looked_at(
            machine.tag, (1 - mends) * machine.look, machine.remedies[1:], prices
        )
    )
    while further and further[0].rate * minutes > worth:
        then = further.popleft()
        worth, minutes, cents = (
            worth + then.rate * then.minutes,
            minutes + then.minutes,
            cents + then.cents,
        )
    yield _Work(worth / minutes, minutes, cents, machine.tag, True)
    yield from (replace(then, first=False) for then in further)


def _met(
    pile: Pile, chosen: frozenset[str], before: Mapping[str, float]
) -> dict[str, float]:
    """The share of each pool's needs that donors meet, half way from the one before; kept where nobody needs it."""
    needed, lent = defaultdict[str, float](float), defaultdict[str, float](float)
    others = [machine for machine in pile.waiting if machine.tag not in chosen]
    for machine in pile.waiting:
        if machine.tag in chosen:
            for remedy in machine.remedies:
                needed[remedy.part] += machine.need(remedy)
    for offer in offers((*pile.donors, *others)):
        if offer.part in needed:
            lent[offer.part] += offer.good
    met = dict(before)
    for pool, need in needed.items():
        if pool and need > 0:
            share = min(lent[pool] / need, 1.0)
            met[pool] = (share + before.get(pool, share)) / 2
    return met
