"""The division of known machines into givers and receivers, chosen together once the needs are known."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from kb.machines.pile.knapsack import Load, filled
from kb.machines.pile.waiting import Offer, Pile, Remedy, Waiting, offers

#: A piece less likely to be good than this is not counted on.
UNLIKELY = 0.05
#: With so many machines that could give, or fewer, each of them is a beginning of the search too.
_FEW = 12
_HELPS = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One machine brought to work, or tried: chance, minutes, cents, its tag, and pool and donor of the part if any."""

    tag: str
    chance: float
    minutes: float
    cents: int = 0
    part: str = ""
    donor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Division:
    """What is to be done with the machines whose cause is known: the tasks, who gives, working machines expected.

    `minutes` are those left over.
    """

    expected: float
    minutes: float
    tasks: tuple[Task, ...]
    givers: frozenset[str]


def divided(pile: Pile) -> Division:
    """The givers and receivers among machines of known cause that bring the most working ones, within both limits.

    For given givers each pool serves its needs, the surest first, with its best pieces, the rest is bought: where
    minutes are not short nothing serves more (receivers that can be matched form a transversal matroid, Edmonds &
    Fulkerson 1965, from memory). Givers are found by adding, dropping and swapping. A machine not looked at yet
    gives what it is expected to have.
    """
    return _Giving(pile).run()


class _Need(NamedTuple):
    """A machine that needs a piece, the surest first: less its belief, so that the best pieces go to the surest."""

    less: float
    minutes: float
    tag: str


class _Giving:
    """The search for givers: needs and pieces by pool, and what each set of givers is worth."""

    def __init__(self, pile: Pile) -> None:
        self._pile = pile
        self._plain: list[Task] = []
        self._needs = defaultdict[str, list[_Need]](list)
        for machine in pile.waiting:
            if machine.repair and machine.repair.minutes <= pile.minutes:
                self._add(machine.tag, machine.repair)
        self._lent = defaultdict[str, list[tuple[float, str]]](list)
        for offer in self._wanted(pile.donors):
            self._lent[offer.part].append((offer.good, offer.tag))
        self._gives = defaultdict[str, dict[str, float]](dict)
        for offer in self._wanted(pile.waiting):
            self._gives[offer.tag][offer.part] = offer.good
        self._touching = {pool: self._having(pool) for pool in self._needs}
        self._served: dict[tuple[str, frozenset[str]], tuple[Task, ...]] = {}
        in_order = sorted(pile.waiting, key=_least_loss)
        self._candidates = [
            machine.tag for machine in in_order if machine.tag in self._gives
        ]
        needing = {need.tag for needs in self._needs.values() for need in needs}
        needing.update(task.tag for task in self._plain)
        self._alike: dict[str, object] = {
            tag: tag if tag in needing else frozenset(self._gives[tag].items())
            for tag in self._candidates
        }

    def _add(self, tag: str, remedy: Remedy) -> None:
        if remedy.part:
            self._needs[remedy.part].append(_Need(-remedy.belief, remedy.minutes, tag))
        else:
            self._plain.append(
                Task(tag=tag, chance=remedy.belief, minutes=remedy.minutes)
            )

    def _wanted(self, machines: Sequence[Waiting]) -> list[Offer]:
        """The pieces that somebody needs and that are not too unlikely to be good."""
        likely = [offer for offer in offers(machines) if offer.good > UNLIKELY]
        return [offer for offer in likely if offer.part in self._needs]

    def _having(self, pool: str) -> frozenset[str]:
        """The machines that need a piece of the pool, or have one."""
        needing = {need.tag for need in self._needs[pool]}
        return frozenset(
            needing.union(tag for tag, gives in self._gives.items() if pool in gives)
        )

    def run(self) -> Division:
        """The best division found."""
        best = self._climbed(frozenset())
        if len(self._candidates) <= _FEW:
            others = [self._climbed(frozenset([tag])) for tag in self._candidates]
            best = max([best, *others], key=lambda one: round(one.expected, 9))
        return best

    def _climbed(self, givers: frozenset[str]) -> Division:
        """The best division found from these givers by adding, dropping and swapping."""
        best = self._value(givers)
        while better := self._added(best, best.givers) or self._changed(best):
            best = better
        return best

    def _value(self, givers: frozenset[str]) -> Division:
        tasks = [task for task in self._plain if task.tag not in givers]
        for pool in self._needs:
            tasks += self._of_pool(pool, givers & self._touching[pool])
        chosen, left = _chosen(tasks, self._pile)
        expected = sum(task.chance for task in chosen)
        return Division(
            expected=expected, minutes=left, tasks=tuple(chosen), givers=givers
        )

    def _of_pool(self, pool: str, givers: frozenset[str]) -> tuple[Task, ...]:
        """The needs of a pool as they are served, if of the machines that need or have such a piece these give."""
        if (pool, givers) not in self._served:
            self._served[pool, givers] = tuple(self._serving(pool, givers))
        return self._served[pool, givers]

    def _serving(self, pool: str, givers: frozenset[str]) -> Iterator[Task]:
        needs = sorted(need for need in self._needs[pool] if need.tag not in givers)
        own = [
            (self._gives[tag][pool], tag) for tag in givers if pool in self._gives[tag]
        ]
        pieces = [*_best_first(self._lent[pool]), *_best_first(own)]
        price = self._pile.prices.get(pool)
        for place, (less, minutes, tag) in enumerate(needs):
            if place < len(pieces):
                good, donor = pieces[place]
                yield Task(
                    tag=tag,
                    chance=-less * good,
                    minutes=minutes,
                    part=pool,
                    donor=donor,
                )
            elif price is not None:
                yield Task(
                    tag=tag, chance=-less, minutes=minutes, cents=price, part=pool
                )

    def _hopes(self, now: Division, givers: frozenset[str]) -> list[tuple[float, str]]:
        """What each further giver can be hoped to add, best first: its pieces for the needs served worst, less itself.

        A receiver's own piece would serve another, so that only the worst served need of its pool is lost with it.
        """
        served = {
            task.tag: task.chance for task in now.tasks if task.donor or not task.part
        }
        worst = {pool: self._worst(pool, served, givers) for pool in self._needs}
        own = {
            task.tag: worst[task.part] if task.part else task.chance
            for task in now.tasks
        }
        hopes = []
        for tag in self._candidates:
            if tag not in givers:
                added = sum(
                    max(good - worst[pool], 0.0)
                    for pool, good in self._gives[tag].items()
                )
                hopes.append((added - own.get(tag, 0.0), tag))
        return sorted(hopes, key=lambda hope: -hope[0])

    def _worst(
        self, pool: str, served: Mapping[str, float], givers: frozenset[str]
    ) -> float:
        """The least chance at which a need of the pool is served by a piece; 1 where nobody needs one."""
        needing = [need.tag for need in self._needs[pool] if need.tag not in givers]
        return min([served.get(tag, 0.0) for tag in needing], default=1.0)

    def _added(self, best: Division, givers: frozenset[str]) -> Division | None:
        """The best division with one giver more, if it is better than `best`; hopeless ones are not tried.

        Of givers that need nothing and give the same one is tried: another would bring as much.
        """
        now = best if givers == best.givers else self._value(givers)
        found, tried_before = None, set[object]()
        for hope, tag in self._hopes(now, givers):
            target = (found or best).expected
            if now.expected + hope <= target + _HELPS:
                break
            gives = self._alike[tag]
            if gives in tried_before:
                continue
            tried_before.add(gives)
            tried = self._value(givers | {tag})
            if tried.expected > target + _HELPS:
                found = tried
        return found

    def _changed(self, best: Division) -> Division | None:
        """A better division with one giver less, or with another in its place."""
        for giver in sorted(best.givers):
            fewer = best.givers - {giver}
            dropped = self._value(fewer)
            if dropped.expected >= best.expected - _HELPS:
                return dropped
            if swapped := self._added(best, fewer):
                return swapped
        return None


def _best_first(pieces: Iterable[tuple[float, str]]) -> list[tuple[float, str]]:
    """Pieces, each with the machine that gives it, by the chance that they are good, and then by tag."""
    return sorted(pieces, key=lambda piece: (-piece[0], piece[1]))


def _least_loss(machine: Waiting) -> tuple[bool, bool, str]:
    """The order in which machines of equal use give: those without a repair, those not looked at, the others."""
    return bool(machine.remedies), machine.known, machine.tag


def _chosen(tasks: Sequence[Task], pile: Pile) -> tuple[list[Task], float]:
    """The tasks to do within both limits, most expected, and the minutes left over."""
    minutes = sum(task.minutes for task in tasks)
    cents = sum(task.cents for task in tasks)
    if minutes <= pile.minutes and cents <= pile.cents:
        return list(tasks), pile.minutes - minutes
    tried = [
        _taken(
            sorted(tasks, key=lambda task: (task.cents, task.minutes, task.tag)), pile
        )
    ]
    for beta in _betas(tasks, pile, cents):
        order = sorted(
            tasks, key=lambda task: (-_a_minute(task, beta), task.minutes, task.tag)
        )
        tried.append(_taken(order, pile))
    return max(
        tried, key=lambda one: (round(sum(task.chance for task in one[0]), 9), one[1])
    )


def _betas(tasks: Sequence[Task], pile: Pile, cents: float) -> list[float]:
    """Prices of a cent by which to put the tasks in order: none, and the knapsack's own where cents are short."""
    if cents <= pile.cents:
        return [0.0]
    loads = [Load(task.chance, task.minutes, task.cents) for task in tasks]
    return [0.0, filled(loads, pile.minutes, pile.cents).cent_price]


def _a_minute(task: Task, beta: float) -> float:
    return (task.chance - beta * task.cents) / max(task.minutes, 1e-9)


def _taken(order: Sequence[Task], pile: Pile) -> tuple[list[Task], float]:
    minutes, cents, taken = pile.minutes, pile.cents, list[Task]()
    for task in order:
        if task.minutes <= minutes and task.cents <= cents:
            minutes, cents = minutes - task.minutes, cents - task.cents
            taken.append(task)
    return taken, minutes
