"""Orders of check-out lines by rule, each in a blink: exact where a rule is proven, a good beginning elsewhere."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from kb.machines.checkout.lines import CheckLines, bits

#: Stands for no minutes at all in a ratio.
_NOTHING = 1e-12


@dataclass(frozen=True, slots=True)
class _Block:
    """Lines that stay together, as one: their order, and the sums that the ratio of a run is made of."""

    order: tuple[int, ...]
    minutes: float
    spent: float
    failing: float
    going_on: float
    ends: float

    def ratio(self) -> float:
        """The run's share of failing a minute, as `ratio_rule` explains."""
        lasting = (
            self.ends * self.spent + (1.0 - self.ends) * self.going_on * self.minutes
        )
        return self.failing / max(lasting, _NOTHING)

    def then(self, other: _Block) -> _Block:
        """Both runs as one, this one first."""
        repaired = (1.0 - self.ends) * self.minutes
        return _Block(
            self.order + other.order,
            self.minutes + other.minutes,
            self.spent + self.going_on * (other.spent + repaired * other.failing),
            self.failing + self.going_on * other.failing,
            self.going_on * other.going_on,
            self.ends,
        )


def ratio_rule(lines: CheckLines) -> list[int]:
    """The order by falling share of failing a minute: exact where every repair disturbs everything done.

    With one g for all lines, line i before line j is better iff q_i / (t_i·(1 - g·(1 - g)·q_i)) is higher: both sides
    of swapping neighbours part into one ratio for each (derived here). Its ends are known rules: g = 0 gives q/t with
    all repaired (Smith 1956), g = 1 gives q/t with the first failure ending it (Mitten 1960). Where lines have to
    stand behind others, a line that is worth more than the one before it joins that one, and both move as one run
    (Sidney 1975 for chains, Horn 1972 for trees; all from memory). A run of lines has minutes T (all of them),
    C (expected ones, with its own repairs), F = sum of q·P(going on), S = P(it goes on to its end), and the ratio
    F / (g·C + (1 - g)·S·T). Where g differs between lines their mean by share of failing stands for all.
    """
    failing = sum(lines.fails)
    ends = (
        sum(q * g for q, g in zip(lines.fails, lines.ends, strict=True)) / failing
        if failing
        else 0.0
    )
    runs: dict[int, _Block] = {
        line: _Block((line,), minutes, minutes, q, 1.0 - q * ends, ends)
        for line, (minutes, q) in enumerate(
            zip(lines.minutes, lines.fails, strict=True)
        )
    }
    return [line for run in _merged(runs, lines.before) for line in run.order]


def _merged(runs: dict[int, _Block], before: list[int]) -> Iterator[_Block]:
    """The runs, best first; one that has to wait for others joins the last of them and is looked at again."""
    waits = dict(enumerate(before))
    while runs:
        best = max(runs, key=lambda name: (runs[name].ratio(), -name))
        run, waited = runs.pop(best), waits.pop(best)
        if waited:
            leader = _last_of(waits, waited)
            runs[leader] = runs[leader].then(run)
            _join(waits, best, leader, waited)
        else:
            yield run
            for name in waits:
                waits[name] &= ~(1 << best)


def _join(waits: dict[int, int], joined: int, leader: int, waited: int) -> None:
    """Whatever waited for the run that joined its leader waits for that one, with all that both waited for."""
    waits[leader] |= waited & ~(1 << leader)
    for name, wait in waits.items():
        if wait >> joined & 1:
            waits[name] = wait & ~(1 << joined) | 1 << leader
        if waits[name] >> leader & 1:
            waits[name] |= waits[leader]


def _last_of(waits: dict[int, int], names: int) -> int:
    """One of the runs that no other of them has to follow."""
    followed = 0
    for name in bits(names):
        followed |= waits[name]
    return next(bits(names & ~followed))


def by_pairs(lines: CheckLines) -> list[int]:
    """The order by what each line gains on the mean by standing before another one."""
    numbers = range(len(lines.minutes))
    middle = [lines.alone[line] + sum(lines.again[line]) / 2 for line in numbers]

    def lost_as_first(line: int) -> float:
        row, goes_on = lines.again[line], lines.goes_on[line]
        lost = 0.0
        for other in numbers:
            lost += (1.0 - goes_on) * middle[other] - (
                1.0 - lines.goes_on[other]
            ) * middle[line]
            lost += (
                lines.goes_on[other] * row[other] - goes_on * lines.again[other][line]
            )
        return -lost

    return sorted_by(lines, lost_as_first)


def by_reach(lines: CheckLines) -> list[int]:
    """The order by what a line would disturb or end as the last one, over what disturbs or ends it as the first."""
    numbers = range(len(lines.minutes))
    minutes = sum(lines.minutes)
    ending = sum(1.0 - goes_on for goes_on in lines.goes_on)

    def reach(line: int) -> float:
        disturbs = sum(lines.again[line]) + (1.0 - lines.goes_on[line]) * minutes
        disturbed = (
            sum(lines.again[other][line] for other in numbers)
            + lines.minutes[line] * ending
        )
        return -disturbs / max(disturbed, _NOTHING)

    return sorted_by(lines, reach)


def as_listed(lines: CheckLines) -> list[int]:
    """The order of the numbers themselves, as far as it is allowed."""
    return sorted_by(lines, lambda line: 0.0)


def sorted_by(lines: CheckLines, key: Callable[[int], float]) -> list[int]:
    """The lines by rising key, ties by number, none before those that it has to follow."""
    waiting = sorted(range(len(lines.minutes)), key=lambda line: (key(line), line))
    order: list[int] = []
    done = 0
    while waiting:
        following = next(
            line for line in waiting if lines.before[line] & done == lines.before[line]
        )
        waiting.remove(following)
        order.append(following)
        done |= 1 << following
    return order
