"""The plan of a pile before it is played: which machines to take, what to order, what an hour more would bring."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from kb.machines.pile.coins import at_least, count_of
from kb.machines.pile.knapsack import Filled, Load, filled
from kb.machines.pile.waiting import Pile, Waiting, offers

#: Machines taken, and others, that are paired for swaps, times the machines on the pile; moves tried in full.
_PAIRED, _TRIED = 800, 12
_HELPS = 1e-9
#: Needs of a pool are counted up to so many standard deviations above their mean.
_DEVIATIONS = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """What to buy of one pool, as far as can be expected: pieces, and cents for all of them."""

    part: str
    pieces: float
    cents: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PilePlan:
    """Machines to take (the others lend parts), working ones expected, minutes and cents they take, prices of both.

    `minute_price` and `cent_price` are the machines that one more minute or cent would bring.
    """

    taken: tuple[str, ...]
    expected: float
    minutes: float
    cents: float
    minute_price: float
    cent_price: float
    orders: tuple[Order, ...]


def planned(pile: Pile) -> PilePlan:
    """The machines to take so that most can be expected to work, within the pile's minutes and cents.

    Every machine taken is looked at; its causes then are repaired as far as it pays. A pool's needs are coins, one for
    each machine taken that may want such a part, and so are its good pieces, one for each machine not taken: a donor's
    piece is expected to serve E min(N, S) times, and E (N - S)+ pieces would have to be bought. Found by falling
    success a minute, then by moving and swapping machines; within .1 % of all sets at 12 machines (the tests say so).
    """
    return Plan(pile).run()


class _Want(NamedTuple):
    """A pool of which a machine may want a piece: how likely, the minutes then, and how likely that mends it."""

    likely: float
    minutes: float
    mends: float


class _Needs(NamedTuple):
    """The pieces of a pool that machines need: how many, minutes and machines mended each, P(at least 1, 2, ...)."""

    needed: float
    minutes: float
    worth: float
    counts: list[float]


class Plan:
    """The search for the machines to take, which are named by number: what each set is worth is remembered by pool."""

    def __init__(self, pile: Pile) -> None:
        self._pile = pile
        self._machines = pile.waiting
        self._everybody = range(len(self._machines))
        self._looks = [_look(machine) for machine in self._machines]
        self._plain = [_plain(machine) for machine in self._machines]
        self._wants = [_wanted(machine) for machine in self._machines]
        pools = set[str]().union(*self._wants)
        self._gives = [_given(machine, pools) for machine in self._machines]
        self._wanting, self._giving = _by_pool(self._wants), _by_pool(self._gives)
        self._pools_of = [
            {*wants, *gives}
            for wants, gives in zip(self._wants, self._gives, strict=True)
        ]
        self._touched = {
            pool: self._wanting[pool] | self._giving[pool] for pool in sorted(pools)
        }
        self._lent = _lent(pile)
        self._pool_loads: dict[tuple[str, frozenset[int]], tuple[Load, ...]] = {}
        self._needs: dict[tuple[str, frozenset[int]], _Needs] = {}
        self._pieces: dict[tuple[str, frozenset[int], int], list[float]] = {}

    def run(self) -> PilePlan:
        """The best set found, as a plan."""
        taken, best = self._best_beginning()
        while True:
            better = self._better(taken, best)
            if better is None:
                return self._told(taken, best)
            taken, best = better

    def _best_beginning(self) -> tuple[frozenset[int], Filled]:
        """As many of the machines of most success a minute as pays: every fourth number tried, then those around."""
        order = sorted(
            self._everybody,
            key=lambda number: (
                -self._by_the_minute(number),
                self._machines[number].tag,
            ),
        )
        values: dict[int, Filled] = {}

        def value(count: int) -> float:
            if count not in values:
                values[count] = self.filled(frozenset(order[:count]))
            return values[count].worth

        coarse = max(
            range(0, len(order) + 1, 4), key=lambda count: (value(count), -count)
        )
        near = range(max(coarse - 3, 0), min(coarse + 4, len(order) + 1))
        count = max(near, key=lambda count: (value(count), -count))
        return frozenset(order[:count]), values[count]

    def _by_the_minute(self, number: int) -> float:
        machine = self._machines[number]
        success = sum(remedy.belief for remedy in machine.remedies)
        minutes = self._looks[number] + sum(
            machine.need(remedy) * remedy.minutes for remedy in machine.remedies
        )
        return success / minutes if minutes else math.inf

    def filled(self, taken: frozenset[int]) -> Filled:
        """The knapsack of one set of machines; worth -1 if there is no time to look at them all."""
        minutes = self._pile.minutes - math.fsum(
            self._looks[number] for number in taken
        )
        if minutes < 0:
            return Filled(
                worth=-1.0,
                minutes=0.0,
                cents=0.0,
                minute_price=0.0,
                cent_price=0.0,
                shares=(),
            )
        return filled(self.loads(taken), minutes, self._pile.cents)

    def loads(self, taken: frozenset[int]) -> list[Load]:
        """What may be done with one set of machines taken: causes without a part first, then pool by pool."""
        loads = [load for number in sorted(taken) for load in self._plain[number]]
        for pool in sorted(self._wanting):
            loads += self._of_pool(pool, taken)
        return loads

    def _of_pool(self, pool: str, taken: frozenset[int]) -> tuple[Load, ...]:
        """The pool's load from donors and the one bought; none if nobody taken wants it."""
        key = pool, taken & self._touched[pool]
        if key not in self._pool_loads:
            self._pool_loads[key] = self._new_pool(pool, taken)
        return self._pool_loads[key]

    def _new_pool(self, pool: str, taken: frozenset[int]) -> tuple[Load, ...]:
        wanting, giving = self._wanting[pool] & taken, self._giving[pool] - taken
        if not wanting:
            return ()
        needed, each, worth, wanted = self._needs_of(pool, wanting)
        met = math.fsum(
            n * s
            for n, s in zip(
                wanted, self._pieces_of(pool, giving, len(wanted)), strict=False
            )
        )
        loads = [Load(met * worth, met * each)]
        if pool in self._pile.prices:
            short = max(needed - met, 0.0)
            loads.append(
                Load(short * worth, short * each, short * self._pile.prices[pool])
            )
        return tuple(loads)

    def _needs_of(self, pool: str, wanting: frozenset[int]) -> _Needs:
        """The pieces of a pool that these machines are expected to need, and what each takes and mends."""
        key = pool, wanting
        if key not in self._needs:
            wants = [self._wants[number][pool] for number in sorted(wanting)]
            needed = math.fsum(want.likely for want in wants)
            each = (
                math.fsum(want.likely * want.minutes for want in wants) / needed
                if needed
                else 0.0
            )
            worth = math.fsum(want.mends for want in wants) / needed if needed else 0.0
            most = min(len(wants), math.ceil(needed + _DEVIATIONS * math.sqrt(needed)))
            counts = at_least(count_of((want.likely for want in wants), most))
            self._needs[key] = _Needs(needed, each, worth, counts)
        return self._needs[key]

    def _pieces_of(self, pool: str, giving: frozenset[int], most: int) -> list[float]:
        """P(at least 1, 2, ... good pieces) of a pool, of these machines and of the donors."""
        key = pool, giving, most
        if key not in self._pieces:
            gives = [self._gives[number][pool] for number in sorted(giving)]
            self._pieces[key] = at_least(count_of([*gives, *self._lent[pool]], most))
        return self._pieces[key]

    def _better(
        self, taken: frozenset[int], best: Filled
    ) -> tuple[frozenset[int], Filled] | None:
        """A set a few moves and swaps away that is worth more; the best by the present prices are tried in full."""
        gain_of = self._gains(taken, best)
        gains = {number: gain_of(frozenset([number])) for number in self._everybody}
        paired = _PAIRED // max(len(gains), 1)
        inside = sorted(taken, key=lambda number: (-gains[number], number))[:paired]
        outside = sorted(
            set(gains) - taken, key=lambda number: (-gains[number], number)
        )[:paired]
        moves = [(gain, frozenset([number])) for number, gain in gains.items()]
        swaps = [frozenset([one, other]) for one in inside for other in outside]
        moves += [(gain_of(swap), swap) for swap in swaps]
        moves.sort(key=lambda move: (-move[0], sorted(move[1])))
        better, value = taken, best
        for _, changed in moves[:_TRIED]:
            if changed & (better ^ taken):
                continue
            tried = self.filled(better ^ changed)
            if tried.worth > value.worth + _HELPS:
                better, value = better ^ changed, tried
        return (better, value) if better != taken else None

    def _gains(
        self, taken: frozenset[int], best: Filled
    ) -> Callable[[frozenset[int]], float]:
        """What it would bring to move some machines, at the present prices of a minute and of a cent."""

        def surplus(loads: Iterable[Load]) -> float:
            return math.fsum(
                max(
                    load.worth
                    - best.minute_price * load.minutes
                    - best.cent_price * load.cents,
                    0.0,
                )
                for load in loads
            )

        now = {pool: surplus(self._of_pool(pool, taken)) for pool in self._touched}
        own = {
            number: surplus(self._plain[number])
            - best.minute_price * self._looks[number]
            for number in self._everybody
        }

        def gain(changed: frozenset[int]) -> float:
            new, gained = taken ^ changed, 0.0
            for pool in sorted(
                set[str]().union(*[self._pools_of[number] for number in changed])
            ):
                gained += surplus(self._of_pool(pool, new)) - now[pool]
            for number in changed:
                gained += own[number] if number in new else -own[number]
            return gained

        return gain

    def _told(self, taken: frozenset[int], best: Filled) -> PilePlan:
        place, orders = sum(len(self._plain[number]) for number in taken), list[Order]()
        for pool in sorted(self._wanting):
            loads = self._of_pool(pool, taken)
            place += len(loads)
            if len(loads) == 2:  # the second one is bought
                bought, share = loads[1], best.shares[place - 1]
                each = self._needs_of(pool, self._wanting[pool] & taken).worth
                pieces = share * bought.worth / (each or 1.0)
                if pieces > _HELPS:
                    orders.append(
                        Order(part=pool, pieces=pieces, cents=share * bought.cents)
                    )
        looks = math.fsum(self._looks[number] for number in taken)
        return PilePlan(
            taken=tuple(self._machines[number].tag for number in sorted(taken)),
            expected=max(best.worth, 0.0),
            minutes=looks + best.minutes,
            cents=best.cents,
            minute_price=best.minute_price,
            cent_price=best.cent_price,
            orders=tuple(orders),
        )


def _look(machine: Waiting) -> float:
    """The minutes that looking at a machine is expected to take; what is tried first may spare it."""
    return (
        (1 - machine.remedies[0].belief) * machine.look
        if machine.ready
        else machine.look
    )


def _plain(machine: Waiting) -> list[Load]:
    """The repairs of a machine that ask for no part."""
    return [
        Load(one.belief, machine.need(one) * one.minutes)
        for one in machine.remedies
        if not one.part
    ]


def _given(machine: Waiting, pools: Collection[str]) -> dict[str, float]:
    """The chance that each piece of a machine is good, by pool, of those pools alone."""
    return {
        piece.part: machine.good(piece)
        for piece in machine.pieces
        if piece.part in pools
    }


def _wanted(machine: Waiting) -> dict[str, _Want]:
    """What a machine may want, by pool; two causes of one pool are one need."""
    wants: dict[str, _Want] = {}
    for remedy in machine.remedies:
        if not remedy.part:
            continue
        before, likely = (
            wants.get(remedy.part, _Want(0.0, 0.0, 0.0)),
            machine.need(remedy),
        )
        both = before.likely + likely
        mean = (
            (before.likely * before.minutes + likely * remedy.minutes) / both
            if both
            else remedy.minutes
        )
        wants[remedy.part] = _Want(min(both, 1.0), mean, before.mends + remedy.belief)
    return wants


def _lent(pile: Pile) -> defaultdict[str, list[float]]:
    """The chances of the pieces that donors already cut up have left, by pool."""
    lent = defaultdict[str, list[float]](list)
    for offer in offers(pile.donors):
        lent[offer.part].append(offer.good)
    return lent


def _by_pool(
    of_machines: Sequence[Mapping[str, object]],
) -> defaultdict[str, frozenset[int]]:
    """The numbers of the machines that have each pool."""
    numbers = defaultdict[str, set[int]](set)
    for number, pools in enumerate(of_machines):
        for pool in pools:
            numbers[pool].add(number)
    return defaultdict(
        frozenset, {pool: frozenset(members) for pool, members in numbers.items()}
    )
